"""Planted faults: does anything notice when the numerics of `sim` are broken in one place? See `__main__`."""
