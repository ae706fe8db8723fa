"""Contents followed in time: against closed forms, published flows that settle, and the linearised equations.

Heated plate at rest: a square fluid of one temperature that does not move, its left wall suddenly at 1, the others
adiabatic: 1 - sum over odd n of 4 / (n pi) sin(n pi x / 2) exp(-n2 pi2 t / 4) (Carslaw and Jaeger).

Squares: side-heated (de Vahl Davis 1983) and heated from below (Ouertatani et al. 2008, from memory, Nu 3.910 at
Ra 1e5, 6.309 at 1e6), followed from rest until they settle. Growth: a small disturbance of resting contents grows as
the linearised equations say. Order: the same flow at one moment with three lengths of step. A flow chosen beforehand,
its sources by hand, in time and space. The annulus above its first oscillation against Raithby and Hollands (1975).
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sim.heat.convection import Convection, FlowLaw
from sim.solve.followed import Following
from sim.solve.motion import Fluidity, State
from sim.solve.stability import growth
from validation.checks.bore.convection import DAVIS, hot_nusselt
from validation.checks.bore.enclosures import Array, Enclosure, Walls, annulus, heated_side, square
from validation.published.rows import Row

OUERTATANI = "@ouertatani2008, mean Nu of the square heated from below, Pr 0.71 (from memory)"


def heated_below(point: Array) -> Array:
    """Bottom at 1, top at 0, sides adiabatic."""
    y = point[:, 1]
    return np.where(y < 1e-9, 1.0, np.where(y > 1 - 1e-9, 0.0, np.nan))


def heated_left(point: Array) -> Array:
    return np.where(point[:, 0] < 1e-9, 1.0, np.nan)


def fluid_of(rayleigh: float, prandtl: float) -> Fluidity:
    """A fluid of constant properties, its weight linear in the temperature."""
    return Fluidity(lambda t: FlowLaw(prandtl, rayleigh, 1.0), lambda t: -t, lambda t: -np.ones_like(t))


def follow(enclosure: Enclosure, rayleigh: float, prandtl: float, start: State) -> Following:
    """A flow of an enclosure about to be followed from a start."""
    area = enclosure.flow.area
    return Following(enclosure, Convection(enclosure.flow), fluid_of(rayleigh, prandtl), area, start)


def at_rest(enclosure: Enclosure, temperature: Array) -> State:
    rest = np.zeros(enclosure.flow.cells)
    return State(temperature, rest, rest)


def tilted(enclosure: Enclosure, size: float) -> Array:
    """A disturbance (n,) that starts one round of the contents."""
    x, y = enclosure.flow.site.T
    return size * np.cos(np.pi * x) * np.sin(np.pi * y)


def stepped(flow: Following, length: float, until: float) -> Following:
    """Steps of one length."""
    flow.length = length
    flow.refer(flow.state.temperature)
    for _ in range(round(until / length)):
        flow.step()
    return flow


def plate() -> list[Row]:
    """Fluid at rest beside a wall that is suddenly hot."""
    enclosure = square(24, heated_left, 1.0)
    flow = follow(enclosure, 0.0, 1.0, at_rest(enclosure, np.zeros(enclosure.nodes)))
    stepped(flow, 1e-3, 0.2)
    n = np.arange(1, 200, 2)
    x = enclosure.flow.site[:, 0]
    part = 4 / (n * np.pi) * np.sin(np.outer(x, n) * np.pi / 2) * np.exp(-((n * np.pi / 2) ** 2) * 0.2)
    error = float(np.abs(flow.state.temperature - (1 - part.sum(axis=1))).max())
    source = "series of the plate, closed form, written out in unsteady.py"
    return [
        Row("plate suddenly hot", source, "largest error at t 0.2", 0.0, error, 2e-3, "0.2 %: 24 cells", "-")
    ]


def settled() -> list[Row]:
    """Two squares followed until they settle."""
    side, below = "side-heated square, Ra 1e5", "square heated from below, Ra 1e5"
    return [
        _settles(side, DAVIS, heated_side, 1e5, 4.519, (18, 26), 0.02),
        _settles(below, OUERTATANI, heated_below, 1e5, 3.910, (18, 26), 0.02),
    ]


def settled_at_1e6() -> list[Row]:
    """A square heated from below, at Ra 1e6, followed until it settles."""
    return [
        _settles("square heated from below, Ra 1e6", OUERTATANI, heated_below, 1e6, 6.309, (28, 40), 0.01)
    ]


def _settles(
    name: str, source: str, walls: Walls, rayleigh: float, exact: float, meshes: tuple[int, int], part: float
) -> Row:
    """Mean Nu of a square of air followed from rest, Richardson's value of two meshes."""
    measured = []
    for cells in meshes:
        enclosure = square(cells, walls, 1.4)
        temperature = enclosure.conducting() + tilted(enclosure, 0.05)
        flow = follow(enclosure, rayleigh, 0.71, at_rest(enclosure, temperature))
        while flow.time < 0.35:
            flow.step()
            if flow.steps % 10 == 0:
                flow.fit_step()
        measured.append(hot_nusselt(enclosure, flow.state.temperature))
    better = measured[1] + (measured[1] - measured[0]) / ((meshes[1] / meshes[0]) ** 2 - 1)
    return Row(
        name, source, "mean Nu", exact, better, part * exact, f"{100 * part:g} %: two coarse meshes", "-"
    )


def grows() -> list[Row]:
    """A small disturbance of contents heated from below, against the mode of the linearised equations."""
    enclosure = square(16, heated_below, 0.8)
    still = at_rest(enclosure, enclosure.conducting())
    fluid = fluid_of(4000.0, 1.0)
    mode = growth(enclosure, Convection(enclosure.flow), fluid, still).real
    start = at_rest(enclosure, still.temperature + tilted(enclosure, 1e-5))
    flow = stepped(follow(enclosure, 4000.0, 1.0, start), 1e-3, 0.3)
    before = float(np.abs(flow.state.psi).max())
    for _ in range(100):
        flow.step()
    measured = float(np.log(np.abs(flow.state.psi).max() / before)) / 0.1
    why = "1 %: step 1e-3, other modes"
    source = "mode of the linearised equations, from the definition"
    return [Row("growth from rest", source, "rate", mode, measured, 0.01 * mode, why, "-")]


def order() -> list[Row]:
    """The same flow at one moment with steps of one, a half and a quarter."""
    enclosure = square(14, heated_side, 1.2)
    start = at_rest(enclosure, 1 - enclosure.flow.site[:, 0])
    flow = stepped(follow(enclosure, 1e4, 0.71, start), 5e-5, 0.02)
    begin, fields = flow.state, []
    for length in (4e-4, 2e-4, 1e-4):
        again = stepped(follow(enclosure, 1e4, 0.71, begin), length, 0.04)
        fields.append(again.state.temperature)
    coarse, fine = (float(np.abs(a - b).max()) for a, b in pairwise(fields))
    measured = float(np.log2(coarse / fine))
    source = "@ascher1995: SBDF2 is of second order (from memory)"
    why = "0.35: first step of order 1"
    return [Row("steps of three lengths", source, "order in time", 2.0, measured, 0.35, why, "-")]


class Forced(Following):
    """A flow driven as well by heat and a torque given over time, added to what it carries."""

    source: Callable[[float], tuple[Array, Array]]

    def what_flow_carries(self) -> tuple[Array, Array]:
        heat, turning = super().what_flow_carries()
        more_heat, more_turning = self.source(self.time)
        area = self.convection.mesh.area
        return heat + area * more_heat, turning + area * more_turning


@dataclass(frozen=True)
class Made:
    """A flow in the unit square chosen beforehand, and what drives it: psi = s(x) s(y) f, T = 1 - x + sin(pi x)
    cos(pi y) g, s = sin(pi x)^2, f = 5 + 5 sin(20 t) / 2, g = (1 + sin(30 t)) / 4; its walls are at rest."""

    rayleigh: float
    prandtl: float
    x: Array
    y: Array

    def state(self, t: float) -> State:
        (s, _, s2, *_), (q, _, q2, *_) = self._shapes()
        f, g, _, _ = self._course(t)
        warm = 1 - self.x + g * np.sin(np.pi * self.x) * np.cos(np.pi * self.y)
        return State(warm, -f * (s2 * q + s * q2), f * s * q)

    def source(self, t: float) -> tuple[Array, Array]:
        """Heat and torque (n,) that keep it going: what is left of each equation."""
        (s, s1, s2, s3, s4), (q, q1, q2, q3, q4) = self._shapes()
        f, g, f_t, g_t = self._course(t)
        cx, sx = np.cos(np.pi * self.x), np.sin(np.pi * self.x)
        cy, sy = np.cos(np.pi * self.y), np.sin(np.pi * self.y)
        u, v = f * s * q1, -f * s1 * q
        t_x, t_y = -1 + np.pi * g * cx * cy, -np.pi * g * sx * sy
        heat = g_t * sx * cy + u * t_x + v * t_y + 2 * np.pi**2 * g * sx * cy
        w_t, w_x, w_y = -f_t * (s2 * q + s * q2), -f * (s3 * q + s1 * q2), -f * (s2 * q1 + s * q3)
        rubs = -f * (s4 * q + 2 * s2 * q2 + s * q4)
        return heat, (w_t + u * w_x + v * w_y) / self.prandtl - rubs - self.rayleigh * t_x

    def _course(self, t: float) -> tuple[float, float, float, float]:
        return (
            5 + 2.5 * float(np.sin(20 * t)),
            0.25 * (1 + float(np.sin(30 * t))),
            50 * float(np.cos(20 * t)),
            7.5 * float(np.cos(30 * t)),
        )

    def _shapes(self) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
        """s and its four derivatives over x and over y."""

        def one(z: Array) -> tuple[Array, ...]:
            c, d = np.cos(2 * np.pi * z), np.sin(2 * np.pi * z)
            return (1 - c) / 2, np.pi * d, 2 * np.pi**2 * c, -4 * np.pi**3 * d, -8 * np.pi**4 * c

        return one(self.x), one(self.y)


def made() -> list[Row]:
    """A flow chosen beforehand, on two meshes with steps in proportion."""
    errors = []
    for cells in (16, 32):
        enclosure = square(cells, heated_side, 0.6)
        exact = Made(1e3, 0.5, *enclosure.flow.site.T)
        fluid = fluid_of(1e3, 0.5)
        flow = Forced(enclosure, Convection(enclosure.flow), fluid, enclosure.flow.area, exact.state(0.0))
        flow.source = exact.source
        stepped(flow, 0.024 / cells, 0.2)
        there = exact.state(flow.time)
        errors.append(
            [
                float(np.abs(a - b).max() / np.ptp(b))
                for a, b in ((flow.state.temperature, there.temperature), (flow.state.psi, there.psi))
            ]
        )
    source = "a flow chosen beforehand, its sources by hand, written out in unsteady.py"
    rows = []
    for name, coarse, fine in zip(("temperature", "stream function"), *errors, strict=True):
        what = f"unsteady flow chosen beforehand: {name}"
        order, why = float(np.log2(coarse / fine)), "0.35: 16 and 32 cells"
        rows.append(Row(what, source, "order in time and space", 2.0, order, 0.35, why, "-"))
        rows.append(Row(what, source, "largest error, 32 cells", 0.0, fine, 0.01, "1 % of its span", "-"))
    return rows


def stirred_annulus() -> list[Row]:
    """Average of the annulus above its first oscillation, against a correlation of measurements."""
    inner, rayleigh = 0.625, 3e6
    enclosure = annulus(20, 80, inner, 1.5)
    x, _ = enclosure.flow.site.T
    flow = follow(enclosure, rayleigh, 0.7, at_rest(enclosure, enclosure.conducting() + 0.02 * x))
    rounds, heat, hot = 0.0, [], enclosure.wall > 0.5
    while rounds < 30.0:
        flow.step()
        if flow.steps % 10 == 0:
            flow.fit_step()
        rounds += flow.length * float(np.abs(flow.state.psi).max())
        now = (enclosure.heat(flow.state.temperature, walls) for walls in (hot, ~hot))
        heat.append((rounds, flow.length, *now))
    at, step, entering, leaving = np.array(heat).T
    late = at > 15.0
    plain = 2 * np.pi / np.log((inner + 1) / inner)
    warm, cold = (float(np.average(q[late], weights=step[late])) / plain for q in (entering, -leaving))
    within, around = 2 * inner, 2 * (inner + 1)
    shape = np.log(around / within) ** 4 / (within**-0.6 + around**-0.6) ** 5  # of a gap of 1
    exact = float(0.386 * (0.7 / 1.561) ** 0.25 * (shape * rayleigh) ** 0.25)
    balance = "balance of the average, from the definition"
    source = "@raithby1975: correlation of measured annuli"
    name, both = "annulus, Ra 3e6, averaged", "3 %: the start not quite gone"
    return [
        Row(
            name,
            source,
            "k_eq / k",
            exact,
            (warm + cold) / 2,
            0.1 * exact,
            "10 %: scatter of a correlation",
            "-",
        ),
        Row(name, balance, "heat out over heat in", 1.0, cold / warm, 0.03, both, "-"),
    ]


GROUPS = (plate, settled, grows, order, made)
LONG = (settled_at_1e6, stirred_annulus)
