"""Parts of a support whose heat has a closed form in them: plates and inserts through which it goes straight.

Where the line's own insulation hardly conducts, heat leaves through the support alone: resistances in series, each
with the part's own arc and full length. Sectors and rings stay radial, so nothing is left out of the closed form.
"""

from math import log, pi, radians
from typing import Any

from sim.solve.support_quantities import heat
from validation.published.rows import Row, Table
from validation.sketches.stretch import COLD, IDLE, ISOTHERMAL, R_COVER, R_I, R_O, level, line

SERIES = "@incropera, section 3.3.1 (from memory); closed form"
KIRCHHOFF = "@carslaw1959, section 1.6 (from memory); closed form"
MESH = "the mesh"


def inserts() -> list[Row]:
    """A sector and a ring of other insulation between a wall and an outside of one temperature each."""
    table = Table("insert, radial in its sector", SERIES, [])
    for arc, length, k in ((100.0, 0.08, 0.5), (40.0, 0.30, 0.01), (360.0, 0.05, 0.2)):
        insert = {"clock": 5, "arc": f"{arc} deg", "length": f"{length} m", "conductivity": f"{k} W/m/K"}
        values = level(line(ISOTHERMAL, {"insert": insert}, outside=COLD)).values
        exact = radians(arc) * length * (k - 0.04) * 60.0 / log(R_COVER / R_O)
        name = f"{arc:g} deg, {1e3 * length:g} mm, {k:g} W/m/K"
        table.row(f"heat sink, {name}", exact, values["heat_sink"], 0.015, MESH)
        table.row(f"chi, {name}", exact / 60.0, values["chi"], 0.015, MESH, "W/K")
    return table.rows


def varying() -> list[Row]:
    """Conductivity that rises with temperature: heat goes by its mean over the temperatures (Kirchhoff's transform)."""
    table = Table("insert and leg with k(T)", KIRCHHOFF, [])
    arc, length = 100.0, 0.08
    insert: dict[str, Any] = {"arc": f"{arc} deg", "length": f"{length} m"}
    insert |= {"conductivity": [["0 degC", "0.1 W/m/K"], ["60 degC", "0.7 W/m/K"]]}
    values = level(line(ISOTHERMAL, {"insert": insert}, outside=COLD), 1.4).values
    exact = radians(arc) * length * (0.4 - 0.04) * 60.0 / log(R_COVER / R_O)
    table.row("heat sink of an insert, 0.1 to 0.7 W/m/K", exact, values["heat_sink"], 0.015, MESH)
    leg = {
        "width": "10 mm",
        "length": "60 mm",
        "exposed": "1 mm",
        "film_coefficient": "0 W/m2/K",
        "end": "held",
    }
    metal = {"conductivity": [["0 degC", "10 W/m/K"], ["60 degC", "50 W/m/K"]]}
    support = {"material": metal, "leg": leg, "spacing": "0.4 m"}
    values = level(line(ISOTHERMAL, support, layer=IDLE)).values
    why = f"the fin's 1 mm takes k of its root, and {MESH}"
    exact = 30.0 * 60.0 * 6e-4 / 0.051
    table.row("heat of a leg, 10 to 50 W/m/K", exact, values["leg_heat_held"], 0.015, why)
    return table.rows


def plates() -> list[Row]:
    """A plate on the pipe and an insert over it, of one arc and length, in insulation that hardly conducts."""
    table = Table("pad and insert in series: contact, plate, insert, film", SERIES, [])
    arc, height, k_pad, k_insert, film = 80.0, 0.010, 0.5, 1.0, 30.0
    for length, contact in ((0.12, 50.0), (0.12, 1e5), (0.06, 50.0)):
        shape = {"clock": 8, "arc": f"{arc} deg", "length": f"{length} m"}
        support = {
            "material": {"conductivity": f"{k_pad} W/m/K"},
            "pad": shape | {"thickness": f"{height} m", "contact_conductance": f"{contact} W/m2/K"},
            "insert": shape | {"conductivity": f"{k_insert} W/m/K"},
            "spacing": "0.4 m",
        }
        outside = {"coefficient": f"{film} W/m2/K"}
        case = line(ISOTHERMAL, support, layer=IDLE, outside=outside)
        face, rim = radians(arc) * length, R_O + height
        exact = 60.0 / (
            1 / (contact * face * R_O)
            + log(rim / R_O) / (k_pad * face)
            + log(R_COVER / rim) / (k_insert * face)
            + 1 / (film * face * R_COVER)
        )
        name = f"heat sink, {1e3 * length:g} mm, contact {contact:g} W/m2/K"
        table.row(name, exact, level(case, 1.4).values["heat_sink"], 0.015, MESH)
    return table.rows


def rings() -> list[Row]:
    """Rings one beside the other all along the line: film in the bore, wall, contact, ring, insulation, film."""
    table = Table("rings all along the line, in series", SERIES, [])
    height, length, k_pad, k_wall, bore, film = 0.030, 0.300, 0.5, 50.0, 50.0, 10.0
    contents = {"state": "flowing", "temperature": "60 degC", "film_coefficient": f"{bore} W/m2/K"}
    for contact in (40.0, 1e5):
        pad = {"arc": "360 deg", "thickness": f"{height} m", "length": f"{length} m"}
        pad |= {"contact_conductance": f"{contact} W/m2/K"}
        support: dict[str, Any] = {"material": {"conductivity": f"{k_pad} W/m/K"}, "pad": pad}
        support |= {"spacing": f"{1.0001 * length} m"}
        values = level(line(k_wall, support, contents=contents)).values
        around, rim = 2 * pi * length, R_O + height
        both = 1 / (bore * R_I) + log(R_O / R_I) / k_wall + 1 / (film * R_COVER)
        ringed = 1 / (contact * R_O) + log(rim / R_O) / k_pad + log(R_COVER / rim) / 0.04
        plain = log(R_COVER / R_O) / 0.04
        exact = 60.0 * around * (1 / (both + ringed) - 1 / (both + plain))
        name = f"contact {contact:g} W/m2/K"
        table.row(f"heat sink, {name}", exact, values["heat_sink"], 0.015, MESH)
        line_length = exact * (both + plain) / (60.0 * 2 * pi)
        name = f"length of line that loses as much, {name}"
        table.row(name, line_length, values["equivalent_line_length"], 0.015, MESH, "m")
    return table.rows


def heated_plates() -> list[Row]:
    """Extra tracer on the pad, or on the pipe beside it, where flowing contents hold the pipe: what leaves outside."""
    table = Table("extra tracer on a pad, contact and insert in series", SERIES, [])
    arc, length, height, contact, k_insert, extra = 80.0, 0.10, 0.006, 60.0, 1.0, 0.8
    shape = {"clock": 6, "arc": f"{arc} deg", "length": f"{length} m"}
    tracer = {"name": "T", "clock": 0, "shape": "flat", "width": "8 mm", "height": "2 mm", "output": "25 W/m"}
    for on in ("pad", "pipe"):
        support = {
            "material": {"conductivity": "5000 W/m/K"},
            "pad": shape | {"thickness": f"{height} m", "contact_conductance": f"{contact} W/m2/K"},
            "insert": shape | {"conductivity": f"{k_insert} W/m/K"},
            "allowance": f"{extra} m",
            "allowance_on": on,
            "spacing": "0.4 m",
        }
        computed = level(line(ISOTHERMAL, support, layer=IDLE, tracer=[tracer], outside=COLD), 1.0)
        assert computed.installed is not None
        face = radians(arc) * length
        inward, outward = contact * face * R_O, k_insert * face / log(R_COVER / (R_O + height))
        given = 25.0 * extra if on == "pad" else 0.0
        plate = (inward * 60.0 + given) / (inward + outward)
        idle = IDLE * (2 * pi * 0.4 - face) / log(R_COVER / R_O) * 60.0
        name, exact = f"heat leaving outside, tracer on the {on}", outward * plate + idle
        table.row(name, exact, heat(computed.installed).out, 0.015, MESH)
    return table.rows


GROUPS = (inserts, varying, plates, rings, heated_plates)
