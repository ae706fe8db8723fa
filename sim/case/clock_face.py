"""Clock positions as people write them (4.5, "4:30", or TOML's 04:30:00), and as angles from 12 o'clock, clockwise."""

import re
from datetime import time

import numpy as np

from sim.basics import Array

from .units import parse_number, shown

HOUR = 2 * np.pi / 12
"""Angle of one hour on the clock face, rad."""

ACCEPTED = 'a number from 0 to 12, or "4:30"'
_FACE = re.compile(r"\s*(\d{1,2}):([0-5]\d)(?::([0-5]\d))?\s*")


def parse_clock(value: object) -> float:
    """Hours from 0 to 12; "12:30" is half past twelve, 0.5. Raises ValueError that says what is accepted."""
    if isinstance(value, time):
        value = value.replace(microsecond=0).isoformat()
    if isinstance(value, str):
        match = _FACE.fullmatch(value)
        if match is None or int(match[1]) > 12:
            raise ValueError(f"{shown(value)} is no position on a clock face; accepted: {ACCEPTED}")
        past = int(match[2]) / 60 + int(match[3] or 0) / 3600
        return int(match[1]) % 12 + past if past else float(match[1])
    try:
        hours = parse_number(value)
    except ValueError as error:
        raise ValueError(f'{error}; accepted: 0 to 12, or such as "4:30"') from None
    if not 0.0 <= hours <= 12.0:
        raise ValueError(f"{hours:g} is outside what is accepted: 0 to 12")
    return hours


def clock_to_angle(clock: float) -> float:
    """Clock hours to radians from 12 o'clock, clockwise."""
    return float(np.mod(clock, 12.0) / 12.0 * 2 * np.pi)


def angle_to_clock(angle: Array | float) -> Array:
    """Radians from 12 o'clock, clockwise, to clock hours in [0, 12)."""
    return np.asarray(np.mod(np.asarray(angle) / (2 * np.pi) * 12.0, 12.0))
