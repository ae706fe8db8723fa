"""Checks of a bend: the section swept around it."""
