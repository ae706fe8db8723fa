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

from sim.heat.plan_storage import line_store
from validation.checks.time.parts import (
    HOUR,
    RESISTANCE,
    WATER,
    Run,
    TwoBodies,
    followed,
    stirred,
    uniform,
)
from validation.published.rows import Row
from validation.sketches.sketch import INNER, LIQUID, OUTER, ZERO, Array, sketch

LATENT = 917.0 * 333.6e3  # J/m3
ICE, LIQUID_WATER = (2.22, 917.0 * 2100.0), (0.566, 917.0 * 4210.0)  # W/m/K and J/m3/K
COLD = 20.0  # K below freezing outside
THIN = {"conductivity": "10000 W/m/K", "density": "1 kg/m3", "specific_heat": "10 J/kg/K"}
SEBAN = "@london1943, from memory; closed form, written out in freezing.py"
KEPT = "conservation, from the definition"
TRACKED = "equations of conduction with a front, written out in freezing.py"


def _moments(computed: Run, shares: tuple[float, ...]) -> list[float]:
    """Hours at which the shares of the liquid are first frozen."""
    curve = computed.courses["frozen"]
    reached = [curve.first(-1, share)[0] for share in shares]
    return [np.nan if t is None else t / HOUR for t in reached]


def frozen_ring() -> list[Row]:
    """A ring of ice in stirred water, London and Seban."""
    light = WATER | {"frozen": {"conductivity": "2.22 W/m/K", "specific_heat": "10 J/kg/K"}}
    mixed = {"state": "mixed", "film_coefficient": "1e5 W/m2/K", "fluid": light}
    outside = {"condition__ambient": f"{-COLD} degC", "pipe__material": THIN}
    rows = []
    bare: dict[str, Any] = {"insulation": {}}
    for name, film, layer in (("insulated", 10.0, {}), ("bare", 200.0, bare)):
        given = {"contents": mixed, "outside": {"coefficient": f"{film} W/m2/K"}}
        far = RESISTANCE if name == "insulated" else 1 / (2 * np.pi * OUTER * film)
        hours = 90.0 if name == "insulated" else 6.0
        computed = followed(
            stirred(**given, **outside, **layer), 2.0, 0.02, start="0.01 degC", lasts=f"{hours} h"
        )
        shares = (0.25, 0.5, 0.9)
        for share, ours in zip(shares, _moments(computed, shares), strict=True):
            left = INNER**2 * (1 - share)
            ring = (INNER**2 - left + left * np.log(1 - share)) / (8 * np.pi * 2.22)
            exact = 2 * np.pi * LATENT / COLD * (far * (INNER**2 - left) / 2 + ring) / HOUR
            what = f"{name}: {share:.0%} frozen"
            why = "0.5 %: one mesh"
            rows.append(Row("frozen ring", SEBAN, what, exact, ours, 0.005 * exact, why, "h"))
    return rows


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
    rows = []
    for hour, exact, warm in zip(hours, share, middle, strict=True):
        ours = float(computed.at("frozen", hour)[0])
        why = "0.006: one mesh, a front of a cell's width"
        rows.append(
            Row("front in still water", TRACKED, f"share at {hour:g} h", float(exact), ours, 0.006, why, "-")
        )
        ours = float(computed.at("contents.max", hour)[0]) - ZERO
        near = "0.5 % of the span: one mesh"
        name = f"middle at {hour:g} h"
        rows.append(Row("front in still water", TRACKED, name, float(warm), ours, 0.12, near, "degC"))
    return rows


FOOT, INCH, FAHRENHEIT = 0.3048, 0.0254, 5 / 9
HANDBOOK = {"bore": 2.067 * INCH, "pipe": 2.375 * INCH, "over": 5.375 * INCH}  # NPS 2, 1.5 in of insulation
LAYER_K = 0.30 * 0.1442279  # W/m/K of Btu in/(h ft2 F)
ASHRAE = "@ashrae2009, chapter 23, equation 1 and its table, NPS 2 under 1.5 in"


def _handbook_line(*, stored: float, film: float, pipe: float) -> dict[str, Any]:
    """The handbook's line; stored: rho c of its insulation, pipe: of its wall, J/m3/K; film: W/m2/K."""
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
        contents={"state": "mixed", "film_coefficient": "1e5 W/m2/K", "fluid": fluid},
        insulation={"layer": [layer]},
        outside={"coefficient": f"{film} W/m2/K"},
        condition__ambient=f"{-18 * FAHRENHEIT - 32 * FAHRENHEIT} degC",
    )


def freeze_up() -> list[Row]:
    """The handbook's example of water cooling to its freezing point, 42 degF in air of -18 degF and of 20 degF.

    As the handbook has it (the layer alone resists, the water alone stores), and with the film, the pipe and the
    insulation of a line, by the closed form of two bodies.
    """
    rows = []
    water = 999.55 * 4186.8 * np.pi / 4 * HANDBOOK["bore"] ** 2
    steel = 7850.0 * 470.0
    core = water + steel * np.pi / 4 * (HANDBOOK["pipe"] ** 2 - HANDBOOK["bore"] ** 2)
    start = (42 - 32) * FAHRENHEIT
    real = TwoBodies(core, 0.5 * HANDBOOK["pipe"], 0.5 * HANDBOOK["over"], LAYER_K, 84000.0, 10.0)
    for air, printed in ((-18.0, 1.4), (20.0, 4.6)):
        for name in ("handbook", "line"):
            plain = name == "handbook"
            raw = _handbook_line(
                stored=100.0 if plain else 84000.0,
                film=1e5 if plain else 10.0,
                pipe=100.0 if plain else steel,
            )
            raw["condition"][0]["ambient"] = f"{(air - 32) * FAHRENHEIT} degC"
            computed = followed(raw, 2.0, 0.005, start=f"{start} degC", lasts="12 h")
            reached = computed.courses["contents.mean"].first(1, ZERO)[0]
            ours = np.nan if reached is None else reached / HOUR
            what = f"42 degF in air of {air:g} degF"
            if plain:
                why = "half of the last digit printed"
                rows.append(Row("freeze-up time", ASHRAE, what, printed, ours, 0.05, why, "h"))
                continue
            share = (32 - air) / (42 - air)
            low, high = 0.1, 20.0
            for _ in range(50):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if real.cooled(middle * HOUR) > share else (low, middle)
            why = "0.5 %: one mesh; longer than the handbook's by film, pipe and insulation"
            source = "@carslaw1959, chapter XII, and @abate2004, written out in parts.py"
            rows.append(
                Row("freeze-up time", source, f"the line: {what}", high, ours, 0.005 * high, why, "h")
            )
    return rows


def iso_12241() -> list[Row]:
    """ISO 12241's time to cool and to freeze: as one body, with the latent heat at the loss of the freezing point.

    The standard's ice resists nothing; with a conductivity so high that it does not here either, the field must give
    its time, and with ice's own, London and Seban's.
    """
    source = "@iso12241, cooling and freezing times (from memory)"
    fluid = WATER | {"frozen": {"conductivity": "2.22 W/m/K", "specific_heat": "10 J/kg/K"}}
    water = 917.0 * 4210.0 * np.pi * INNER**2
    cools = water * RESISTANCE * np.log((10 + COLD) / COLD) / HOUR
    rows = []
    for name, k in (("ice that resists nothing", 1e3), ("ice", 2.22)):
        fluid["frozen"] = {"conductivity": f"{k} W/m/K", "specific_heat": "10 J/kg/K"}
        mixed = {"state": "mixed", "film_coefficient": "1e5 W/m2/K", "fluid": dict(fluid)}
        raw = stirred(contents=mixed, pipe__material=THIN, condition__ambient=f"{-COLD} degC")
        computed = followed(raw, 2.0, 0.01, start="10 degC", lasts="60 h")
        lump = computed.courses["contents.stored"].first(1, 0.0)[0]
        ours = np.nan if lump is None else lump / HOUR
        if k > 100:
            why = "0.5 %: one mesh"
            rows.append(
                Row("ISO 12241 times", source, "cooling to freezing", cools, ours, 0.005 * cools, why, "h")
            )
        freezes = 0.25 * np.pi * INNER**2 * LATENT * RESISTANCE / COLD / HOUR
        left = 0.75 * INNER**2
        ring = (INNER**2 - left + left * np.log(0.75)) / (8 * np.pi * k)
        longer = 2 * np.pi * LATENT / COLD * ring / HOUR
        ours = _moments(computed, (0.25,))[0]
        exact = cools + freezes + longer
        why, what = f"the ice's resistance adds {longer:.2g} h; one mesh, 0.5 %", f"a quarter frozen, {name}"
        rows.append(Row("ISO 12241 times", source, what, exact, ours, 0.005 * exact, why, "h"))
    return rows


def there_and_back() -> list[Row]:
    """A section frozen and thawed again holds what it held at the start, and every step closes.

    Cold for a day and warm for ten: everything is at the temperature of the start again, so must be its enthalpy.
    """
    rows = []
    for state in ("still", "mixed"):
        contents = {"state": state, "fluid": WATER}
        if state == "mixed":
            contents["film_coefficient"] = "1000 W/m2/K"
        raw = sketch(
            contents=contents,
            insulation={},
            outside={"coefficient": "60 W/m2/K"},
            condition__ambient="5 degC",
        )
        cold = [{"at": "0 h", "ambient": "-20 degC"}, {"at": "8 h", "ambient": "5 degC"}]
        thawed = followed(raw, 0.7, 0.05, start="5 degC", lasts="60 h", change=cold)
        net, track = thawed.network, thawed.track
        end = track.end
        assert end is not None
        store = line_store(net)
        whole = store.enthalpy(np.full(net.nodes, ZERO + 5.0))
        passed = float(max(track.values["frozen"])) * np.pi * INNER**2 * LATENT
        back = float((end.enthalpy - whole).sum()) / passed
        what = f"{state}: enthalpy left over, as a part of the heat of freezing"
        why = "1e-4: the last of the rise is still to come"
        rows.append(Row("frozen and thawed", KEPT, what, 0.0, back, 1e-4, why, "-"))
        most = float(max(track.values["frozen"]))
        what, why = f"{state}: frozen at the most", "half at least"
        rows.append(Row("frozen and thawed", TRACKED, what, 1.0, most, 0.5, why, "-"))
        what, why = f"{state}: energy", "1e-8 of the heat that passed"
        rows.append(Row("frozen and thawed", KEPT, what, 0.0, track.closure, 1e-8, why, "-"))
    return rows


GROUPS = (frozen_ring, front_in_still_water, freeze_up, iso_12241)
LONG = (there_and_back,)
