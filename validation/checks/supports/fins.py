"""A traced pipe with a ring of other insulation: an axial fin of two zones, exact along z.

The ring takes the same heat all around the clock, so the pipe with its contents is a fin: (k A) T'' = U' T - q', with
U' and q' of each zone. Everything an engineer asks of a support follows from it in closed form: fall, place, reach,
repeated supports (coth), extra tracer, and what falls where the output falls with the wall.
"""

from dataclasses import dataclass
from math import log, pi
from typing import Any

import numpy as np
from scipy.integrate import trapezoid

from sim.case import Case
from sim.solve.support_level import Level
from sim.solve.support_quantities import heat, wall_band
from validation.published.rows import Row, Table
from validation.sketches.sketch import LIQUID
from validation.sketches.stretch import COLD, R_COVER, R_I, R_O, level, only, raw_line

SOURCE = "@incropera, section 3.6 (from memory); closed form"
K_WALL, K_CONTENTS, K_INSERT, OUTPUT = 400.0, 100.0, 0.4, 25.0
LENGTH = 0.40
AROUND = 2 * pi / log(R_COVER / R_O)  # W/m/K per W/m/K of what lies around the pipe
TINY = {"shape": "flat", "width": "6 mm", "height": "0.6 mm"}
TINY |= {"body_conductivity": "10 W/m/K", "contact_conductance": "100000 W/m2/K"}
WHY = "the tracer's own heat goes not all through the pipe, the ring's edges, and the mesh"


@dataclass(frozen=True)
class Fin:
    """Zones along z from 0: end (n,) m, loss U' (n,) W/m/K, heat q' (n,) W/m; strength kA, W m/K; 0 is the ambient.

    Symmetric about z = 0 and about the last end.
    """

    end: tuple[float, ...]
    loss: tuple[float, ...]
    given: tuple[float, ...]
    strength: float

    def __call__(self, z: np.ndarray) -> np.ndarray:
        """Temperature at z, K."""
        n, start = len(self.end), (0.0, *self.end[:-1])
        m = np.sqrt(np.array(self.loss) / self.strength)
        level_ = np.array(self.given) / np.array(self.loss)

        def at(i: int, x: float) -> tuple[np.ndarray, np.ndarray]:
            # growing and falling exponentials of a zone, scaled to 1 at its own ends
            up, down = np.exp(m[i] * (x - self.end[i])), np.exp(-m[i] * (x - start[i]))
            value, slope = np.zeros(2 * n), np.zeros(2 * n)
            value[2 * i : 2 * i + 2] = up, down
            slope[2 * i : 2 * i + 2] = m[i] * up, -m[i] * down
            return value, slope

        left, right = [at(0, 0.0)[1], at(n - 1, self.end[-1])[1]], [0.0, 0.0]
        for i in range(n - 1):
            here, there = at(i, self.end[i]), at(i + 1, self.end[i])
            left += [here[0] - there[0], here[1] - there[1]]
            right += [level_[i + 1] - level_[i], 0.0]
        factors = np.linalg.solve(np.array(left), np.array(right))
        zone = np.minimum(np.searchsorted(self.end, z), n - 1)
        return np.array([level_[i] + at(int(i), float(x))[0] @ factors for i, x in zip(zone, z, strict=True)])


def _strength(wall: float = K_WALL, contents: float = K_CONTENTS) -> float:
    return wall * pi * (R_O**2 - R_I**2) + contents * pi * R_I**2


def traced_raw(
    support: dict[str, Any] | None = None,
    output: Any = f"{OUTPUT} W/m",
    wall: float = K_WALL,
    inside: float = K_CONTENTS,
    **changes: Any,
) -> dict[str, Any]:
    """The line: a good conductor full of a good conductor, one thin tracer, a ring of poorer insulation."""
    fluid = LIQUID | {"conductivity": f"{inside} W/m/K"}
    mixed = {"state": "mixed", "film_coefficient": "100000 W/m2/K", "fluid": fluid}
    insert = {"arc": "360 deg", "length": f"{LENGTH} m", "conductivity": f"{K_INSERT} W/m/K"}
    tracer = [{"name": "T", "clock": 3, "output": output} | TINY]
    given: dict[str, Any] = {"contents": mixed, "tracer": tracer, "outside": COLD} | changes
    return raw_line(wall, {"insert": insert} | (support or {}), **given)


def traced(*args: Any, **changes: Any) -> Case:
    """The same as a case."""
    return only(traced_raw(*args, **changes))


def _alone(
    half: float, strength: float, outputs: tuple[float, float] = (OUTPUT, OUTPUT), extra: float = 0.0
) -> Fin:
    """extra: what is added to both losses, W/m/K."""
    return Fin(
        (LENGTH / 2, half), (K_INSERT * AROUND + extra, 0.04 * AROUND + extra), outputs, strength
    )  # fmt: skip


def rings_every(spacing: float, allowance: float) -> Fin:
    """A ring every `spacing` m with extra tracer over its whole length, m."""
    return _alone(spacing / 2, _strength(), (OUTPUT * (1 + allowance / LENGTH), OUTPUT))


def fall(fin: Fin, z: np.ndarray) -> np.ndarray:
    """Fall below the line's own temperature."""
    return fin.given[-1] / fin.loss[-1] - fin(z)


def long_line() -> list[Row]:
    """One ring on a long line: heat sink, fall, reach, allowance."""
    table = Table("ring on a traced pipe, an axial fin of two zones", SOURCE, [])
    allowance = 1.0
    support: Level = level(traced({"allowance": f"{allowance} m"}))
    values, half = support.values, float(support.layers.edge[-1])
    sink, enough = 60.0 * LENGTH * (K_INSERT - 0.04) * AROUND, LENGTH * (K_INSERT / 0.04 - 1)
    for name, exact, unit in (
        ("heat sink", sink, "W"),
        ("chi", sink / 60.0, "W/K"),
        ("equivalent tracer length", sink / OUTPUT, "m"),
        ("equivalent line length", enough, "m"),
    ):
        table.row(name, exact, values[name.replace(" ", "_")], 0.01, "the mesh", unit)
    z = np.linspace(0.0, half, 20001)
    down = fall(_alone(half, _strength()), z)
    for name in ("dip", "fall_max", "fall_mean", "contents_dip"):
        table.row(name.replace("_", " "), down[0], values[name], 0.015, WHY, "K")
    table.within("place of the coldest wall, z", 0.0, values["wall_min_z"], 1e-9, "its middle", "m")
    tenth = z[np.flatnonzero(down >= 0.1 * down[0])[-1]]
    table.row("reach, to a tenth of the dip", tenth, values["reach"], 0.02, WHY, "m")
    wall = wall_band(support.alone)
    for at in (0.5 * LENGTH, 1.0, 3.0):
        there = float(wall.value[-1].min() - np.interp(at, wall.z, wall.value.min(axis=1)))
        name = f"wall minimum's fall at z = {at:g} m"
        table.row(name, np.interp(at, z, down), there, 0.02, WHY, "K")
    name = "allowance that restores the wall, over the ring"
    table.row(name, enough, values["allowance_enough"], 0.02, WHY, "m")
    more = rings_every(2 * half, allowance)
    table.row("dip with an allowance of 1 m", fall(more, z)[0], values["with_allowance.dip"], 0.02, WHY, "K")
    assert support.installed is not None
    for name, solution, laid in (
        ("tracer alone", support.alone, 0.0),
        ("with the allowance", support.installed, allowance),
    ):
        flow, given = heat(solution), OUTPUT * (2 * half + laid)
        table.row(f"heat of the tracers in the whole stretch, {name}", given, flow.tracers, 1e-6, "a sum")
        left = "what the solver leaves"
        table.row(f"heat leaving the whole stretch, {name}", given, flow.out, 1e-5, left)
    table.within("closure", 0.0, values["closure"], 1e-6, "what the solver leaves", "-")
    most, why = 0.005 * down[0], "0.5 % of the dip, as the program promises"
    table.within("far end against the section's own wall", 0.0, values["far_end"], most, why, "K")
    return table.rows


def what_carries() -> list[Row]:
    """Conduction along the pipe by the wall alone, and by the contents almost alone: still, mixed."""
    table = Table("what carries heat along the pipe", SOURCE, [])
    empty = {"state": "empty", "film_coefficient": "0 W/m2/K"}
    fluid = {"fluid": LIQUID | {"conductivity": "300 W/m/K"}}
    mixed = {"state": "mixed", "film_coefficient": "100000 W/m2/K"} | fluid
    trials = {
        "wall, adiabatic bore": (K_WALL, 0.0, empty),
        "mixed contents, one temperature a slice": (20.0, 300.0, mixed),
        "still contents": (20.0, 300.0, {"state": "still"} | fluid),
    }
    for name, (wall, inside, contents) in trials.items():
        values = level(traced({"spacing": "3 m"}, wall=wall, contents=contents)).values
        exact = fall(_alone(1.5, _strength(wall, inside)), np.zeros(1))[0]
        table.row(f"fall of the mean, {name}", exact, values["fall_mean"], 0.02, WHY, "K")
        table.within(f"closure, {name}", 0.0, values["closure"], 1e-6, "what the solver leaves", "-")
    return table.rows


def flowing() -> list[Row]:
    """Flowing contents hold the wall through their film: U' gains the bore's conductance."""
    table = Table("ring on a line with flowing contents", SOURCE, [])
    film, at = 5.0, 60.0
    contents = {"state": "flowing", "temperature": f"{at} degC", "film_coefficient": f"{film} W/m2/K"}
    values = level(traced({"spacing": "2 m"}, contents=contents)).values
    bore = film * 2 * pi * R_I
    fin = _alone(1.0, _strength(K_WALL, 0.0), (OUTPUT + bore * at, OUTPUT + bore * at), bore)
    table.row("dip", fall(fin, np.zeros(1))[0], values["dip"], 0.02, WHY, "K")
    bounded = Fin(fin.end, fin.loss, (bore * at, bore * at), fin.strength)
    z = np.linspace(0.0, 1.0, 4001)
    lost = 2 * float(trapezoid(bounded(z) * np.where(z < LENGTH / 2, K_INSERT, 0.04) * AROUND, z))
    plain = 2 * 1.0 * 0.04 * AROUND * bounded.given[-1] / bounded.loss[-1]
    table.row("heat sink behind the film", lost - plain, values["heat_sink"], 0.015, "the mesh")
    return table.rows


def falling_output() -> list[Row]:
    """An output that falls with the wall's temperature, q0 - s T: the slope adds to U'."""
    table = Table("ring on a line with a self-regulating tracer", SOURCE, [])
    output = {"at": [["0 degC", "50 W/m"], ["100 degC", "10 W/m"]]}
    computed = level(traced({"spacing": "2 m", "allowance": "0.5 m"}, output=output))
    slope, full = 0.4, 50.0
    fin = _alone(1.0, _strength(), (full, full), slope)
    z = np.zeros(1)
    table.row("dip", fall(fin, z)[0], computed.values["dip"], 0.02, WHY, "K")
    times = 1 + 0.5 / LENGTH
    loss = (K_INSERT * AROUND + slope * times, fin.loss[1])
    more = Fin(fin.end, loss, (full * times, full), fin.strength)
    name, ours = "dip with an allowance of 0.5 m", computed.values["with_allowance.dip"]
    table.row(name, fall(more, z)[0], ours, 0.02, WHY, "K")
    return table.rows


def short_allowance() -> list[Row]:
    """Extra tracer over less than the ring: the coldest place moves off the middle."""
    table = Table("extra tracer over 0.1 m of a ring of 0.4 m", SOURCE, [])
    over, allowance = 0.1, 1.6
    support = {"allowance": f"{allowance} m", "allowance_over": f"{over} m", "spacing": "2 m"}
    computed = level(traced(support, wall=150.0, inside=0.1), 1.0)
    loss = (K_INSERT * AROUND, K_INSERT * AROUND, 0.04 * AROUND)
    given = (OUTPUT * (1 + allowance / over), OUTPUT, OUTPUT)
    fin = Fin((over / 2, LENGTH / 2, 1.0), loss, given, _strength(150.0, 0.1))
    z = np.linspace(0.0, 1.0, 4001)
    down = fall(fin, z)
    table.row("dip with the allowance", down.max(), computed.values["with_allowance.dip"], 0.03, WHY, "K")
    table.within(
        "its place, z", z[np.argmax(down)], computed.values["with_allowance.wall_min_z"], 0.01, "a layer", "m"
    )
    table.row(
        "fall of the mean in the middle", down[0], computed.values["with_allowance.fall_mean"], 0.03, WHY, "K"
    )
    return table.rows


GROUPS = (long_line, what_carries, flowing, falling_output, short_allowance)
