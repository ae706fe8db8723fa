"""What is said of air that would stir in a gap: Rayleigh number and how much more it would carry.

A shell of metal hangs on a pipe of metal, 40 mm of air below it, 100 degC to 0 degC. With air of Incropera, table A.4,
at about 323 K (nu 18.20e-6/1.01325, a 25.9e-6/1.01325 m2/s, Pr 0.704, from memory), Ra = g beta dT L3/(nu a), and after
Raithby and Hollands (1975), Adv. Heat Transfer 11, 265-315, 0.386 (Pr/(0.861 + Pr))^1/4 Ra^1/4 times conduction.
"""

import re

from sim.judge.field_notes import gap_note
from validation.published.rows import Row
from validation.sketches.sketch import METAL, sketch, solved

SOURCE = "@raithby1975, air of @incropera, table A.4 (from memory), worked by hand"


def rows() -> list[Row]:
    """Rayleigh number and carrying of air in a gap, as they are printed."""
    layer = {"thickness": "10 mm", "conductivity": f"{METAL} W/m/K"}
    shell = {"fit": "oversize", "bore": "150 mm", "layer": [layer]}
    note = gap_note(solved(sketch(insulation=shell))) or ""
    match = re.search(r"widest is ([\d.]+) mm \(Rayleigh number ([\d.e+]+)\).* up to ([\d.]+) times", note)
    width, rayleigh, times = (float(x) for x in match.groups()) if match else (0.0, 0.0, 0.0)
    scale = 1 / 1.01325
    exact = 9.81 / 323.0 * 100.0 * 0.04**3 / (18.20e-6 * 25.9e-6 * scale**2)
    carried = 0.386 * (0.704 / (0.861 + 0.704)) ** 0.25 * exact**0.25
    why = "temperatures are those of the cells beside the faces; two digits are printed"
    return [
        Row("air that stirs", SOURCE, "widest gap", 40.0, width, 0.5, "whole millimetres are printed", "mm"),
        Row("air that stirs", SOURCE, "Rayleigh number", exact, rayleigh, 0.1 * exact, f"10 %: {why}", "-"),
        Row("air that stirs", SOURCE, "times conduction", carried, times, 0.04 * carried, f"4 %: {why}", "-"),
    ]
