"""Checks of fittings against other methods."""
