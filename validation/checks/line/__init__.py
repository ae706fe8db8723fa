"""Checks of a line along itself."""
