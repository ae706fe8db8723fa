"""Whole sections that freeze: a ring of ice in stirred water, a front in still water, the handbooks' times, and back.

Ring: stirred water at its freezing point under a layer that stores nothing. With R the resistance from the bore to
outside (K m/W), the front r falls from the bore a as rho L 2 pi r dr / dt = -(Tf - Ta) / (R + ln(a / r) / (2 pi k)),
so that t = 2 pi rho L / (Tf - Ta) [R (a2 - r2) / 2 + (a2 - r2 - 2 r2 ln(a / r)) / (8 pi k)] (London and Seban 1943).

Front in still water: the same with the ice's and the water's own heat, by a grid that follows the front, which shares
nothing with the program (`_tracked`).

Handbooks: the water, or the line, as one body through the layer's resistance alone (ASHRAE), its latent heat at the
loss of the freezing point (ISO 12241). What the field has besides: the film, the pipe's and the insulation's heat, the
ice's resistance. Each is put in turn, so that the difference is accounted for.
"""

from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from sim.heat.plan_storage import line_store
from validation.checks.time.parts import (
    FILM,
    HOUR,
    RESISTANCE,
    STIRRED,
    WATER,
    Run,
    TwoBodies,
    followed,
    stirred,
    uniform,
)
from validation.published.rows import Row, Table
from validation.sketches.sketch import INNER, LIQUID, OUTER, ZERO, Array, sketch

LATENT = 917.0 * 333.6e3  # J/m3
ICE, LIQUID_WATER = (2.22, 917.0 * 2100.0), (0.566, 917.0 * 4210.0)  # W/m/K and J/m3/K
COLD = 20.0  # K below freezing outside
THIN = {"conductivity": "10000 W/m/K", "density": "1 kg/m3", "specific_heat": "10 J/kg/K"}
SEBAN = "@london1943, from memory; closed form, written out in freezing.py"
KEPT = "conservation, from the definition"
TRACKED = "equations of conduction with a front, written out in freezing.py"


def _ring(share: float, resistance: float, k: float = 2.22) -> float:
    """Hours until a share of the bore is ice of conductivity k, behind a resistance (K m/W): London and Seban."""
    left = INNER**2 * (1 - share)
    own = (INNER**2 - left + left * np.log(1 - share)) / (8 * np.pi * k)
    return float(2 * np.pi * LATENT / COLD * (resistance * (INNER**2 - left) / 2 + own) / HOUR)


def _stirred_water(k: float, start: float, hours: float, film: float = FILM, **layer: Any) -> Run:
    """Stirred water in a pipe without heat that freezes: the ice's conductivity W/m/K, first degC, film W/m2/K."""
    frozen = {"frozen": {"conductivity": f"{k} W/m/K", "specific_heat": "10 J/kg/K"}}
    given = {"contents": STIRRED | {"fluid": WATER | frozen}, "outside": {"coefficient": f"{film} W/m2/K"}}
    raw = stirred(**given, condition__ambient=f"{-COLD} degC", pipe__material=THIN, **layer)
    return followed(raw, 2.0, 0.01 if start > 1 else 0.02, start=f"{start} degC", lasts=f"{hours} h")


def frozen_ring() -> list[Row]:
    """A ring of ice in stirred water, London and Seban."""
    table = Table("frozen ring", SEBAN, unit="h", why="one mesh")
    bare = 1 / (2 * np.pi * OUTER * 200.0)
    for name, far, computed in (
        ("insulated", RESISTANCE, _stirred_water(2.22, 0.01, 90.0)),
        ("bare", bare, _stirred_water(2.22, 0.01, 6.0, 200.0, insulation={})),
    ):
        for share in (0.25, 0.5, 0.9):
            ours = computed.first("frozen", -1, share)
            table.row(f"{name}: {share:.0%} frozen", _ring(share, far), ours, 0.005)
    return table.rows


POINTS = 100  # intervals of each of the two grids


def _tracked(far: float, warm: float, hours: Array) -> tuple[Array, Array]:
    """Share frozen and the middle's temperature (degC) of still water in a pipe without heat, at moments (h).

    far: resistance from the bore to outside, K m/W; warm: temperature at first, degC. Second-order differences on two
    grids of which one spans the ice and one the water, each scaled by the front (Landau's transform).
    """
    eta = np.linspace(0.0, 1.0, POINTS + 1)

    def touched(t: float, water: Array) -> float:
        return float(water[-1])

    touched.terminal = True  # type: ignore[attr-defined]
    whole = np.append(hours, hours[-1] + 0.01) * HOUR
    options: dict[str, Any] = {"method": "BDF", "rtol": 1e-6, "atol": 1e-6}
    before = solve_ivp(
        lambda t, water: _liquid(water, far),
        (0.0, whole[-1]),
        np.full(POINTS + 1, warm),
        events=touched,
        **options,
    )
    begin, water = float(before.t[-1]), before.y[:, -1]
    front = INNER * (1 - 1e-3)  # a first film of ice, of a thousandth of the bore
    first = np.concatenate(
        [np.interp(eta * front, eta * INNER, water), np.linspace(0.0, -1e-2, POINTS + 1), [front]]
    )
    later = solve_ivp(
        lambda t, state: _with_ice(state, far), (begin, whole[-1]), first, t_eval=whole[:-1], **options
    )
    return 1 - (later.y[-1] / INNER) ** 2, later.y[0]


def _liquid(water: Array, far: float) -> Array:
    """dT/dt (POINTS + 1,) of the water before any ice: its last point on the wall."""
    eta = np.linspace(0.0, 1.0, POINTS + 1)
    step = eta[1]
    rate = np.zeros(POINTS + 1)
    rate[1:-1] = _diffusion(water, eta * INNER, INNER, np.zeros(POINTS + 1), LIQUID_WATER)
    rate[0] = 4 * LIQUID_WATER[0] / LIQUID_WATER[1] * (water[1] - water[0]) / (step * INNER) ** 2
    edge = INNER * (1 - 0.5 * step)
    inside = LIQUID_WATER[0] * 2 * np.pi * edge * (water[-1] - water[-2]) / (step * INNER)
    leaves = (water[-1] + COLD) / far
    volume = np.pi * (INNER**2 - edge**2)
    rate[-1] = -(inside + leaves) / (LIQUID_WATER[1] * volume)
    return rate


def _with_ice(state: Array, far: float) -> Array:
    """d/dt of the water's points (POINTS + 1), the ice's (POINTS + 1) and the front."""
    eta = np.linspace(0.0, 1.0, POINTS + 1)
    step, front = eta[1], state[-1]
    water, ice = state[: POINTS + 1].copy(), state[POINTS + 1 : -1].copy()
    water[-1] = ice[0] = 0.0
    # no storage at the wall: the ice's last point gives off what conduction brings
    k = ICE[0] * 2 * np.pi * INNER / (2 * step * (INNER - front))
    ice[-1] = (k * (4 * ice[-2] - ice[-3]) - COLD / far) / (3 * k + 1 / far)
    # dT/dr on both sides of the front, of second order
    inner = float((3 * water[-1] - 4 * water[-2] + water[-3]) / (2 * step * front))
    outer = float((-3 * ice[0] + 4 * ice[1] - ice[2]) / (2 * step * (INNER - front)))
    speed = (ICE[0] * outer - LIQUID_WATER[0] * inner) / LATENT
    rate = np.zeros_like(state)
    r = eta * front
    rate[1:POINTS] = _diffusion(water, r, front, speed * eta, LIQUID_WATER)
    rate[0] = 4 * LIQUID_WATER[0] / LIQUID_WATER[1] * (water[1] - water[0]) / (step * front) ** 2
    r = front + eta * (INNER - front)
    rate[POINTS + 2 : -2] = _diffusion(ice, r, INNER - front, speed * (1 - eta), ICE)
    rate[-1] = speed
    return rate


def _diffusion(u: Array, r: Array, width: float, speed: Array, law: tuple[float, float]) -> Array:
    """dT/dt at inner points of a moving grid: diffusion, and what the grid sweeps over. law: k, rho c."""
    (k, stored), step = law, 1.0 / POINTS
    half = 0.5 * (r[1:] + r[:-1])
    flow = half * np.diff(u) / (step * width)
    diffusion = np.diff(flow) / (r[1:-1] * step * width)
    return np.asarray(k / stored * diffusion + speed[1:-1] * (u[2:] - u[:-2]) / (2 * step * width))


def front_in_still_water() -> list[Row]:
    """A front of ice in still water, with the heat of ice and water: share frozen and the temperature of the middle."""
    far = 1 / (2 * np.pi * OUTER * 40.0)
    raw = sketch(
        contents={"state": "still", "fluid": WATER},
        pipe__material=THIN,
        insulation={},
        outside={"coefficient": "40 W/m2/K"},
        condition__ambient=f"{-COLD} degC",
    )
    computed = followed(raw, 1.4, 0.05, start="4 degC", lasts="2.25 h")
    hours = np.array([1.0, 2.25])
    share, middle = _tracked(far, 4.0, hours)
    table = Table("front in still water", TRACKED, unit="degC", why="0.5 % of the span: one mesh")
    for hour, exact, warm in zip(hours, share, middle, strict=True):
        ours, why = float(computed.at("frozen", hour)[0]), "0.006: one mesh, a front of a cell's width"
        table.within(f"share at {hour:g} h", exact, ours, 0.006, why, "-")
        table.within(f"middle at {hour:g} h", warm, computed.degc("contents.max", hour), 0.12)
    return table.rows


INCH, FAHRENHEIT = 0.0254, 5 / 9
HANDBOOK = {"bore": 2.067 * INCH, "pipe": 2.375 * INCH, "over": 5.375 * INCH}  # NPS 2, 1.5 in of insulation
LAYER_K = 0.30 * 0.1442279  # W/m/K of Btu in/(h ft2 F)
ASHRAE = "@ashrae2009, chapter 23, equation 1 and its table, NPS 2 under 1.5 in"


def _handbook_line(stored: float, film: float, pipe: float, air: float) -> dict[str, Any]:
    """The handbook's line; stored: rho c of its insulation, pipe: of its wall, J/m3/K; film: W/m2/K; air: degF."""
    fluid = LIQUID | {"density": "999.55 kg/m3", "specific_heat": "4186.8 J/kg/K"}
    wall = 0.5 * (HANDBOOK["pipe"] - HANDBOOK["bore"])
    layer = {
        "thickness": f"{0.5 * (HANDBOOK['over'] - HANDBOOK['pipe'])} m",
        "conductivity": f"{LAYER_K} W/m/K",
        "density": "10 kg/m3",
        "specific_heat": f"{stored / 10:g} J/kg/K",
    }
    return sketch(
        pipe__outer_diameter=f"{HANDBOOK['pipe']} m",
        pipe__wall=f"{wall} m",
        pipe__material=uniform(1e4, pipe),
        contents=STIRRED | {"fluid": fluid},
        insulation={"layer": [layer]},
        outside={"coefficient": f"{film} W/m2/K"},
        condition__ambient=f"{(air - 32) * FAHRENHEIT} degC",
    )


def freeze_up() -> list[Row]:
    """The handbook's example of water cooling to its freezing point, 42 degF in air of -18 degF and of 20 degF.

    As the handbook has it (the layer alone resists, the water alone stores), and with the film, the pipe and the
    insulation of a line, by the closed form of two bodies.
    """
    table = Table("freeze-up time", ASHRAE, unit="h", why="half of the last digit printed")
    water = 999.55 * 4186.8 * np.pi / 4 * HANDBOOK["bore"] ** 2
    steel = 7850.0 * 470.0
    core = water + steel * np.pi / 4 * (HANDBOOK["pipe"] ** 2 - HANDBOOK["bore"] ** 2)
    real = TwoBodies(core, 0.5 * HANDBOOK["pipe"], 0.5 * HANDBOOK["over"], LAYER_K, 84000.0, 10.0)
    source = "@carslaw1959, chapter XII, and @abate2004, written out in parts.py"
    why = "one mesh; longer than the handbook's by film, pipe and insulation"
    for air, printed in ((-18.0, 1.4), (20.0, 4.6)):
        what, share = f"42 degF in air of {air:g} degF", (32 - air) / (42 - air)
        lines = _handbook_line(100.0, 1e5, 100.0, air), _handbook_line(84000.0, 10.0, steel, air)
        plain, whole = (
            followed(raw, 2.0, 0.005, start=f"{10 * FAHRENHEIT} degC", lasts="12 h").first(
                "contents.mean", 1, ZERO
            )
            for raw in lines
        )
        table.within(what, printed, plain, 0.05)
        exact = brentq(lambda hours, share=share: real.cooled(hours * HOUR) - share, 0.1, 20.0, xtol=1e-12)
        table.row(f"the line: {what}", exact, whole, 0.005, why, source=source)
    return table.rows


def iso_12241() -> list[Row]:
    """ISO 12241's time to cool and to freeze: as one body, with the latent heat at the loss of the freezing point.

    The standard's ice resists nothing; with a conductivity so high that it does not here either, the field must give
    its time, and with ice's own, London and Seban's.
    """
    source = "@iso12241, cooling and freezing times (from memory)"
    table = Table("ISO 12241 times", source, unit="h", why="one mesh")
    cools = 917.0 * 4210.0 * np.pi * INNER**2 * RESISTANCE * np.log((10 + COLD) / COLD) / HOUR
    for name, k in (("ice that resists nothing", 1e3), ("ice", 2.22)):
        computed = _stirred_water(k, 10.0, 60.0)
        if k > 100:
            table.row("cooling to freezing", cools, computed.first("contents.stored", 1, 0.0), 0.005)
        longer = _ring(0.25, 0.0, k)
        why, exact = (
            f"the ice's resistance adds {longer:.2g} h; one mesh, 0.5 %",
            cools + _ring(0.25, RESISTANCE, k),
        )
        ours = computed.first("frozen", -1, 0.25)
        table.within(f"a quarter frozen, {name}", exact, ours, 0.005 * exact, why)
    return table.rows


def there_and_back() -> list[Row]:
    """A section frozen and thawed again holds what it held at the start, and every step closes.

    Cold for a day and warm for ten: everything is at the temperature of the start again, so must be its enthalpy.
    """
    table = Table("frozen and thawed", KEPT, unit="-", why="1e-4: the last of the rise is still to come")
    for state in ("still", "mixed"):
        stirring = {"film_coefficient": "1000 W/m2/K"} if state == "mixed" else {}
        raw = sketch(
            contents={"state": state, "fluid": WATER} | stirring,
            insulation={},
            outside={"coefficient": "60 W/m2/K"},
            condition__ambient="5 degC",
        )
        cold = [{"at": "0 h", "ambient": "-20 degC"}, {"at": "8 h", "ambient": "5 degC"}]
        thawed = followed(raw, 0.7, 0.05, start="5 degC", lasts="60 h", change=cold)
        net, track = thawed.network, thawed.track
        assert track.end is not None
        whole = line_store(net).enthalpy(np.full(net.nodes, ZERO + 5.0))
        most = float(max(track.values["frozen"]))
        back = float((track.end.enthalpy - whole).sum()) / (most * np.pi * INNER**2 * LATENT)
        table.within(f"{state}: enthalpy left over, as a part of the heat of freezing", 0.0, back, 1e-4)
        table.within(f"{state}: frozen at the most", 1.0, most, 0.5, "half at least", source=TRACKED)
        table.within(f"{state}: energy", 0.0, track.closure, 1e-8, "1e-8 of the heat that passed")
    return table.rows


GROUPS = (frozen_ring, front_in_still_water, freeze_up, iso_12241)
LONG = (there_and_back,)
