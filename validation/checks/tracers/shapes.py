"""Where tracers lie and how large they are, against the geometry of circles, chords and tangents.

Round, pressed on the pipe along a chord b: its centre is sqrt(R2 - b2/4) + sqrt(a2 - b2/4) from the pipe's axis (a, R
the radii), its body what lies outside the pipe, so the circle less both circular segments on the chord; it touches
along the arc 2 R asin(b / 2 R). Flat: an annular sector, w measured on the pipe.

Void beside a round tracer under the common tangent: with d the distance of the centres, L = sqrt(d2 - (R - a)2) the
tangent and t = arccos((R - a) / d), two right trapezia less both sectors, and the lens counted twice:
(R + a) L - R2 t - a2 (pi - t) + lens. Beside a flat one, from the outer corner at H:
R sqrt(H2 - R2) - R2 arccos(R / H).

An oversize shell hangs on what it meets first: its centre is lower by its radius less the reach of the pipe, or of a
tracer at 12 o'clock.
"""

from math import acos, asin, pi, sqrt
from typing import Any

import numpy as np

from sim.section.layout import place
from validation.checks.conduction.fourier import eccentric_shape_factor
from validation.published.rows import Row, Table
from validation.sketches.sketch import (
    DEFINED,
    FLAT,
    HELD,
    METAL,
    OUTER,
    ROUND,
    STORE,
    area_of,
    case_of,
    centroid_of,
    hours_apart,
    numbers,
    sketch,
    solved,
)

CIRCLES = "geometry of two circles, " + DEFINED
RADIUS, CHORD = 0.005, 0.003  # of the round tracer and its contact
REACH = sqrt(OUTER**2 - CHORD**2 / 4) + sqrt(RADIUS**2 - CHORD**2 / 4)
PRESSED = ROUND | {"contact_width": f"{CHORD} m"}
STRAIGHT = "straight cell faces"
SHELL = {"fit": "oversize", "bore": "150 mm", "layer": [{"thickness": "20 mm", "conductivity": "0.04 W/m/K"}]}


def _segment(radius: float, chord: float) -> float:
    return radius**2 * asin(chord / (2 * radius)) - chord / 2 * sqrt(radius**2 - chord**2 / 4)


LENS = _segment(RADIUS, CHORD) + _segment(OUTER, CHORD)


def _contact(raw: dict[str, Any]) -> float:
    """Meshed length of the contact between tracer and wall, m."""
    mesh = STORE.get(case_of(raw), 2.0)
    kind = mesh.kind[mesh.face_cells]
    touching = (kind == "wall").any(axis=1) & (kind == "tracer").any(axis=1)
    return float(mesh.face_length[touching].sum())


def bodies() -> list[Row]:
    """Areas, contacts, and where the centre of the body lies on the clock."""
    on_pipe = sketch(PRESSED)
    table = Table("tracer's geometry", CIRCLES, unit="mm2", why=STRAIGHT)
    sector = 1e6 * 0.012 * 0.004 * (1 + 0.004 / 2 / OUTER)
    table.row("round: body", 1e6 * (pi * RADIUS**2 - LENS), 1e6 * area_of(on_pipe, "tracer"), 0.01)
    arc = 2e3 * OUTER * asin(CHORD / 2 / OUTER)
    table.row("round: contact", arc, 1e3 * _contact(on_pipe), 0.01, unit="mm")
    table.row("flat: body", sector, 1e6 * area_of(sketch(FLAT), "tracer"), 0.01)
    table.row("flat: contact", 12.0, 1e3 * _contact(sketch(FLAT)), 0.01, unit="mm")
    table.row("pipe wall", 1e6 * pi * (0.055**2 - 0.05**2), 1e6 * area_of(on_pipe, "wall"), 0.01)
    why = "0.1 mm; 12 o'clock is up, 3 o'clock to the right"
    clocks, half = Table("clock position", CIRCLES, table.rows, "mm", why), 0.006 / OUTER
    middle = 2 / 3 * (0.059**3 - OUTER**3) / (0.059**2 - OUTER**2) * np.sin(half) / half
    for clock in (1.5, 3.0, 8.0):
        x, y = centroid_of(solved(sketch(FLAT | {"clock": clock})), "tracer")
        turn = clock / 12 * 2 * pi
        name = f"flat tracer at {clock:g}"
        clocks.within(f"{name}: x of its centre", 1e3 * middle * np.sin(turn), 1e3 * x, 0.1)
        clocks.within(f"{name}: y of its centre", 1e3 * middle * np.cos(turn), 1e3 * y, 0.1)
    return table.rows


def centres() -> list[Row]:
    """Distances from the pipe's axis: pressed, lifted, stacked round on round, round on flat, flat on flat."""
    upper = {"name": "T2", "over": "T1"}
    small = ROUND | upper | {"diameter": "6 mm", "contact_width": "2 mm"}
    sunk = sqrt(RADIUS**2 - 0.001**2) + sqrt(0.003**2 - 0.001**2)
    on_flat = sqrt(0.059**2 - 0.001**2) + sqrt(0.003**2 - 0.001**2)
    lifted = ROUND | {"standoff": "5 mm"}
    stories = {
        "round, pressed": ([PRESSED], REACH),
        "round, lifted 5 mm": ([lifted], OUTER + 0.005 + RADIUS),
        "round on round": ([PRESSED, small], REACH + sunk),
        "round on flat": ([FLAT, small], on_flat),
    }
    table = Table("tracer's geometry", CIRCLES, unit="mm", why="rounding")
    for name, (tracers, exact) in stories.items():
        body: Any = place(case_of(sketch(*tracers))).bodies[-1]
        table.row(f"{name}: centre", 1e3 * exact, 1e3 * float(np.hypot(body.cx, body.cy)), 1e-6)
    flats = {
        "flat, lifted 5 mm": ([FLAT | {"standoff": "5 mm"}], OUTER + 0.005),
        "flat on flat": ([FLAT, FLAT | upper | {"width": "8 mm"}], OUTER + 0.004),
    }
    for name, (tracers, exact) in flats.items():
        body = place(case_of(sketch(*tracers))).bodies[-1]
        table.row(f"{name}: base", 1e3 * exact, 1e3 * float(body.inner), 1e-6)
    return table.rows


def voids() -> list[Row]:
    """Areas of the voids: bridged, lifted, and under a hanging shell."""
    tangent, turn = sqrt(REACH**2 - (OUTER - RADIUS) ** 2), acos((OUTER - RADIUS) / REACH)
    bridged = (OUTER + RADIUS) * tangent - OUTER**2 * turn - RADIUS**2 * (pi - turn) + LENS
    top = OUTER + 0.004
    corner = OUTER * sqrt(top**2 - OUTER**2) - OUTER**2 * acos(OUTER / top)
    far = OUTER + 0.005 + RADIUS
    free, wide = sqrt(far**2 - (OUTER - RADIUS) ** 2), acos((OUTER - RADIUS) / far)
    lifted = (OUTER + RADIUS) * free - OUTER**2 * wide - RADIUS**2 * (pi - wide)
    gap = 0.006 / OUTER * ((OUTER + 0.003) ** 2 - OUTER**2)
    stories = {
        "bridged, round tracer": (sketch(PRESSED, insulation__fit="bridged"), bridged),
        "bridged, flat tracer": (sketch(FLAT, insulation__fit="bridged"), corner),
        "under a round tracer lifted 5 mm": (sketch(ROUND | {"standoff": "5 mm"}), lifted),
        "under a flat tracer lifted 3 mm": (sketch(FLAT | {"standoff": "3 mm"}), gap),
        "hanging shell of 150 mm bore": (sketch(insulation=SHELL), pi * (0.075**2 - OUTER**2)),
    }
    table = Table("void's area", CIRCLES, unit="mm2", why=f"{STRAIGHT}, cusps")
    for name, (raw, exact) in stories.items():
        table.row(name, 1e6 * exact, 1e6 * area_of(raw, "void"), 0.02)
    return table.rows


def hanging_shell() -> list[Row]:
    """How low the shell hangs: on the pipe, on a tracer at 12; and where a warm line is then warmest outside."""
    stories = {
        "on the pipe": ([], 0.075 - OUTER),
        "a round tracer at 6 o'clock below": ([PRESSED | {"clock": 6}], 0.075 - OUTER),
        "on a round tracer at 12 o'clock": ([PRESSED | {"clock": 12}], 0.075 - REACH - RADIUS),
        "on a flat tracer at 12 o'clock": ([FLAT | {"clock": 12}], 0.075 - 0.059),
    }
    table = Table("hanging shell", CIRCLES, unit="mm", why="1e-4 mm: bisection")
    for name, (tracers, exact) in stories.items():
        drop = place(case_of(sketch(*tracers, insulation=SHELL))).drop
        table.within(f"{name}: centre lower by", 1e3 * exact, 1e3 * drop, 1e-4)
    clock = numbers(sketch(insulation=SHELL, outside__coefficient="10 W/m2/K"))["barrier.max_clock"]
    source = "symmetry, from the definition: warmest where the shell lies on the pipe, at 12 o'clock"
    off = hours_apart(clock, 0.0)
    table.within("warmest place outside, hours from 12", 0.0, off, 0.3, "one cell around", "h", source)
    # the shell held off the pipe by an unpowered tracer at 12 that conducts as the filling does: the gap alone resists
    filling = {"conductivity": "0.1 W/m/K"}
    spacer = FLAT | {"clock": 12, "output": "0 W/m", "body_conductivity": "0.1 W/m/K"}
    metal = SHELL | {"void": filling, "layer": [{"thickness": "10 mm", "conductivity": f"{METAL} W/m/K"}]}
    spacer |= {"contact_conductance": f"{HELD} W/m2/K"}
    loss = numbers(sketch(spacer, insulation=metal), 2.0)["heat_out"]
    exact = 0.1 * 100.0 * eccentric_shape_factor(0.15, 2 * OUTER, 0.075 - 0.059)
    source = "@incropera, table 4.1, case 7 (closed form 2 pi / arcosh)"
    table.row("loss through its gap", exact, loss, 0.002, "one mesh", "W/m", source)
    return table.rows


GROUPS = (bodies, centres, voids, hanging_shell)
