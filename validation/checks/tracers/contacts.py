"""Contacts, gaps, foil and the heat of a tracer, against resistances in series and slabs with a source.

The insulation is made so poor a conductor (1e-4 W/m/K) that all a tracer gives goes to the pipe, which is one
temperature. What goes there is taken from the heat the contents take up, so that little is left to the insulation.

- Contact: the body of a metal stands q' / (h_c A) above the pipe; A is w, or the arc of a round tracer's contact.
- Corner of a round tracer's contact: in the wedge of angle a that opens there the temperatures of two good conductors
  part as r^p, p2 = (k / a) (1 / (k_1 b_1) + 1 / (k_2 b_2)), b their own angles there, and k / (a p) passes; both
  corners and the contact are in parallel (separation of variables at a corner, p small).
- Stacked: the lower contact passes both heats, the upper one its own.
- Slab with a source: a body of height H and conductivity k heated evenly and cooled at its base stands q' H / (2 w k)
  above its base at its face, and q' H / (3 w k) on average; an even heat in a rod held at its outline q' / (8 pi k) on
  average (Incropera, section 3.5, from memory).
- Gap under a lifted flat tracer: a sector of a hollow cylinder of air, that conducts k w / (R ln((R + s) / R)) and
  radiates as two grey plates, sigma (T1^4 - T2^4) / (2 / eps - 1) (Incropera, section 13.3, from memory).
- Foil alone from tracer to pipe: two strips of length L, the tangent, pass 2 k t / L.
"""

from math import asin, log, pi, sqrt, tanh
from typing import Any

from scipy.optimize import brentq

from validation.published.rows import Row, Table
from validation.sketches.lines import flowing, solid
from validation.sketches.sketch import (
    DEFINED,
    FLAT,
    HELD,
    METAL,
    OUTER,
    ROUND,
    SIGMA,
    ZERO,
    numbers,
    sketch,
)

WIDTH, HEIGHT, HEAT = 0.012, 0.004, 20.0
SERIES = "resistances in series, " + DEFINED
CORNER = "contact and corners in parallel, separation of variables at the corner, " + DEFINED
SLAB = "@incropera, section 3.5, a wall and a rod with a source (from memory)"
POOR = {"layer__conductivity": "1e-4 W/m/K"}
WHY = "one mesh; corners, and what the insulation takes"
SOLID_BODY = {"body_conductivity": f"{METAL} W/m/K"}


def contacts() -> list[Row]:
    """Flat and round tracers of metal over a poor contact; two flat ones on each other."""
    flat = FLAT | SOLID_BODY | {"contact_conductance": "200 W/m2/K"}
    table, held = Table("contact", SERIES, unit="K", why=WHY), {"contents": flowing(0.0, HELD)} | POOR
    values = numbers(sketch(flat, **held))
    exact = -values["from_contents"] / (200.0 * WIDTH)
    table.row("flat: body above wall", exact, values["tracers.T1.mean"] - ZERO, 0.015)
    stories = (("its arc passes most", 0.008, 100.0), ("its corners pass most", 0.003, METAL))
    for name, chord, k_body in stories:
        pressed = ROUND | {"contact_width": f"{chord} m", "contact_conductance": "200 W/m2/K"}
        values = numbers(sketch(pressed | {"body_conductivity": f"{k_body} W/m/K"}, **held))
        angle = asin(chord / 2 / 0.005) + asin(chord / 2 / OUTER)
        bodies = 1 / (k_body * (pi - angle)) + 1 / (METAL * pi)
        passes = 200.0 * 2 * OUTER * asin(chord / 2 / OUTER) + 2 * sqrt(1e-4 / angle / bodies)
        exact, rise = -values["from_contents"] / passes, values["tracers.T1.mean"] - ZERO
        table.row(f"round, {name}: body above wall", exact, rise, 0.03, source=CORNER)
    upper = flat | {"name": "T2", "over": "T1", "contact_conductance": "100 W/m2/K", "output": "10 W/m"}
    values = numbers(sketch(flat, upper, **held))
    lower, above = (values[f"tracers.{name}.mean"] - ZERO for name in ("T1", "T2"))
    # the upper one is as wide as the lower in angle, so wider by (R + H) / R where it lies on it
    exact = 10.0 / (100.0 * WIDTH * (OUTER + HEIGHT) / OUTER)
    table.row("stacked: upper body above the lower", exact, above - lower, 0.02)
    table.row("stacked: lower above the wall", 30.0 / (200.0 * WIDTH), lower, 0.02)
    return table.rows


def heated_bodies() -> list[Row]:
    """An even heat in a body: its face, its mean, and the temperature within a rod."""
    body = FLAT | {"body_conductivity": "0.3 W/m/K", "contact_conductance": f"{HELD} W/m2/K"}
    other = body | {"name": "T2", "clock": 9, "body_conductivity": "0.6 W/m/K"}
    values = numbers(sketch(body, other, contents=flowing(0.0, HELD), **POOR))
    # in a sector of an annulus, cooled at R and with no flux at R + H: T = q'''/(2 k) (H_o^2 ln(r/R) - (r^2 - R^2)/2)
    outer = OUTER + HEIGHT
    source = HEAT / (WIDTH / OUTER * (outer**2 - OUTER**2) / 2)
    face = source / (2 * 0.3) * (outer**2 * log(outer / OUTER) - (outer**2 - OUTER**2) / 2)
    mean = HEAT * HEIGHT / (3 * WIDTH * 0.3)
    table = Table("heat within a body", SLAB, unit="K", why=WHY)
    table.row("flat: highest on its outline", face, values["tracers.T1.sheath_max"] - ZERO, 0.015)
    table.row("flat: mean", mean, values["tracers.T1.mean"] - ZERO, 0.04)
    table.row("another: mean", mean / 2, values["tracers.T2.mean"] - ZERO, 0.04)
    rod = ROUND | {"body_conductivity": "0.1 W/m/K", "contact_width": "0.5 mm"}
    rod |= {"contact_conductance": f"{HELD} W/m2/K"}
    values = numbers(sketch(rod, contents=flowing(0.0, HELD), layer__conductivity=f"{METAL} W/m/K"))
    table.row("round: mean", HEAT / (8 * pi * 0.1), values["tracers.T1.mean"] - ZERO, 0.02)
    return table.rows


def held_faces() -> list[Row]:
    """Faces beyond which all is of one temperature have that temperature, whatever the cells beside them have."""
    body = FLAT | {"body_conductivity": "0.3 W/m/K", "contact_conductance": f"{HELD} W/m2/K"}
    raw = sketch(body, contents=flowing(0.0, HELD), layer__conductivity=f"{METAL} W/m/K")
    sheath = numbers(raw)["tracers.T1.sheath_max"] - ZERO
    raw = sketch(
        pipe__material=solid(0.5),
        layer__conductivity=f"{METAL} W/m/K",
        sensor=[{"name": "S", "clock": 1.7}],
    )
    values = numbers(raw)
    source = "a face has the temperature it is held at, " + DEFINED
    table = Table("faces", source, unit="K", why="0.05 K: one mesh")
    table.within("sheath of a body in metal, 2.8 K warmer within", 0.0, sheath, 0.05)
    table.within("sensor on a plastic pipe in metal", 0.0, values["sensors.S.reading"] - ZERO, 0.05)
    table.within("coldest of that wall", 0.0, values["wall.min"] - ZERO, 0.05)
    table.within("hottest of that wall", 100.0, values["wall.max"] - ZERO, 0.05, unit="degC")
    loss = 2 * pi * 0.5 / log(1.1) * 100.0
    table.row("its loss", loss, values["heat_out"], 0.01, WHY, "W/m", SERIES)
    return table.rows


def gaps() -> list[Row]:
    """A flat tracer lifted 5 mm over a given filling, and over air that conducts and radiates."""
    lift, wide = 0.005, 0.2
    tracer = FLAT | SOLID_BODY | {"width": f"{wide} m", "standoff": f"{lift} m"}
    shape = wide / OUTER / log((OUTER + lift) / OUTER)
    filled = {"conductivity": "0.5 W/m/K"}
    values = numbers(sketch(tracer, contents=flowing(0.0, HELD), insulation__void=filled, **POOR), 1.0)
    exact = -values["from_contents"] / (0.5 * shape)
    table = Table("gap under a lifted tracer", SERIES, unit="K", why=WHY)
    table.row("compound of 0.5 W/m/K: body above wall", exact, values["tracers.T1.mean"] - ZERO, 0.02)
    air = "grey plates and still air: @incropera, section 13.3 and table A.4, k 0.0263 at 300 K, 0.0338 at 400 K"
    for emissivity in (0.0, 0.5, 0.9):
        void = {"filling": "air", "emissivity": emissivity}
        values = numbers(sketch(tracer, contents=flowing(20.0, HELD), insulation__void=void, **POOR), 1.0)
        cold, heat = 20.0 + ZERO, -values["from_contents"]
        grey = emissivity / (2 - emissivity) * SIGMA * wide * (1 + lift / 2 / OUTER)

        def surplus(hot: float, grey: float = grey, heat: float = heat, cold: float = cold) -> float:
            k = 0.0263 + (0.0338 - 0.0263) / 100 * ((hot + cold) / 2 - 300.0)
            return k * shape * (hot - cold) + grey * (hot**4 - cold**4) - heat

        hot = brentq(surplus, cold, 2000.0)
        name, rise = f"air, emissivity {emissivity:g}: body above wall", values["tracers.T1.mean"] - cold
        table.row(name, hot - cold, rise, 0.02, source=air + " (from memory)")
    return table.rows


THIN = 1e-3  # W/m/K, of a compound that lets next to nothing past the strips


def fin_power(conductivity: float) -> float:
    """m of the strips' x^m over a compound, S of 0.02 W/K: m (m - 1) = 2 R k / S."""
    return 0.5 * (1 + sqrt(1 + 8 * OUTER * conductivity / 0.02))


def foil() -> list[Row]:
    """A foil as the only way from a tracer to the pipe: its length along the tangents, its thickness, both strips."""
    sheet = {"thickness": "0.2 mm", "conductivity": "100 W/m/K", "contact_conductance": "bonded"}
    apart = {"contact_conductance": "1e-3 W/m2/K", "output": "2 W/m"} | SOLID_BODY
    conducts, given = 100.0 * 2e-4, {"contents": flowing(0.0, HELD), "insulation__fit": "bridged"} | POOR
    over = given | {"insulation__void": {"conductivity": f"{THIN:g} W/m/K"}, "pipe__material": solid(METAL)}

    table = Table("foil", "no foil, " + DEFINED, unit="K", why=WHY)

    def row(name: str, source: str, case: dict[str, Any], through: float, part: float = 0.03) -> None:
        values = numbers(case)
        exact, rise = -values["from_contents"] * through, values["tracers.T1.mean"] - ZERO
        table.row(f"{name}: body above wall", exact, rise, part, source=f"{source}, {DEFINED}")

    top, reach = OUTER + HEIGHT, OUTER + 0.002 + 0.005
    length, longer = sqrt(top**2 - OUTER**2), sqrt(reach**2 - 0.05**2)
    each, two = 1 / (2 * conducts * fin_power(THIN)), "two strips along the tangents"
    lifted = sketch(ROUND | apart | {"standoff": "2 mm"}, foil=sheet, **over)
    row("flat", two, sketch(FLAT | apart, foil=sheet, **over), length * each)
    row("round, lifted 2 mm", two, lifted, longer * each)
    # a contact h between the sheath's outer face (w wide) and the foil: S u'' = h u, S u' = q/2 at its edges
    pressed = sketch(FLAT | apart, foil=sheet | {"contact_conductance": "80 W/m2/K"}, **over)
    decay, width = sqrt(80.0 / conducts), WIDTH * top / OUTER
    through = length * each + 1 / (2 * conducts * decay * tanh(decay * width / 2))
    row("flat, foil pressed on", "strips along the tangents behind a contact", pressed, through)
    # over a compound k the strip is a fin above a gap x2/(2 R), x from its foot: S T'' = 2 R k/x2 T, so T goes as x^m,
    # m (m - 1) = 2 R k/S, and S m/L leaves the tracer (thin gap: the tracer 1 mm high, the strip 10.5 mm long)
    # the compound also conducts between pipe and tracer in the corner at its base, here some 3 % beside the foil
    void = {"insulation__void": {"conductivity": "0.02 W/m/K"}}
    low = sketch(FLAT | apart | {"height": "1 mm"}, foil=sheet, **given, **void)
    through = sqrt((OUTER + 0.001) ** 2 - OUTER**2) / (2 * conducts * fin_power(0.02))
    row("flat, over compound of 0.02 W/m/K", "fin over a gap that opens as x2", low, through, 0.04)
    # a foil that conducts next to nothing along itself is no foil: the line loses the same through it
    wide = FLAT | SOLID_BODY | {"width": "200 mm", "output": "0 W/m"}
    none = {"thickness": "1e-3 mm", "conductivity": "1e-4 W/m/K", "contact_conductance": "bonded"}
    plain, covered = (numbers(sketch(wide, **more), 1.0)["heat_out"] for more in ({}, {"foil": none}))
    name = "one of next to no conductance: loss through it"
    table.row(name, plain, covered, 1e-3, "cells at the feet", "W/m")
    return table.rows


GROUPS = (contacts, heated_bodies, held_faces, gaps, foil)
