"""Random valid cases that between them use every key of the schema, each from one seed. Every number is invented.

The sections of `random_cases`, and on them what those leave out: supports, given materials and fluids, contents in
natural convection, limits and the design's numbers, and conditions that override keys of every table.
"""

import copy
from pathlib import Path
from typing import Any

from random_cases import BARRIERS, INSULATIONS, TRIES, _Draw, random_raw

from sim.case import CaseError, parse_case

WEATHER = Path(__file__).parents[1] / "cases" / "weather" / "invented-frost-week.csv"
FAMILIES = ("shoe", "clamp", "hanger", "trunnion", "cradle", "flange", "parts")


def _solid(d: _Draw) -> dict[str, Any]:
    solid: dict[str, Any] = {
        "name": "a solid",
        "source": "invented",
        "conductivity": f"{d.spread(0.2, 300.0):g} W/m/K",
        "density": f"{d.spread(900.0, 8900.0):.4g} kg/m3",
        "specific_heat": f"{d.spread(300.0, 2000.0):.4g} J/kg/K",
    }
    if d.chance(0.5):
        solid["emissivity"] = d.even(0.05, 0.95)
    return solid


def _liquid(d: _Draw) -> dict[str, Any]:
    k = d.spread(0.1, 0.7)
    return {
        "name": "a liquid",
        "phase": "liquid",
        "source": "invented",
        "conductivity": [["-50 degC", f"{k:g} W/m/K"], ["150 degC", f"{0.9 * k:.4g} W/m/K"]],
        "density": {"polynomial": [d.even(800.0, 1300.0), -0.3], "range": ["-50 degC", "150 degC"]},
        "specific_heat": f"{d.spread(1500.0, 4200.0):.4g} J/kg/K",
        "viscosity": f"{d.spread(0.5, 5000.0):.4g} mPa*s",
        "expansion": f"{d.spread(1e-4, 1e-3):.3g} 1/K",
    } | (_freezing(d) if d.chance(0.6) else {})


def _freezing(d: _Draw) -> dict[str, Any]:
    start = d.even(-20.0, 10.0)
    freezing: dict[str, Any] = {
        "latent_heat": f"{d.even(100.0, 350.0):g} kJ/kg",
        "frozen": {"conductivity": f"{d.even(0.3, 2.5):g} W/m/K", "specific_heat": "2000 J/kg/K"},
        "freezes_at": f"{start:g} degC",
    }
    if d.chance(0.5):
        freezing["frozen_share"] = {"at": [[f"{start - 9:g} degC", 0.6], [f"{start - 1:g} degC", 0.1]]}
    return freezing


def _gas(d: _Draw) -> dict[str, Any]:
    return {
        "name": "a gas",
        "phase": "gas",
        "source": "invented",
        "conductivity": f"{d.spread(0.01, 0.15):.3g} W/m/K",
        "density": f"{d.spread(0.2, 10.0):.3g} kg/m3",
        "specific_heat": f"{d.spread(500.0, 5000.0):.4g} J/kg/K",
        "viscosity": f"{d.spread(8e-3, 0.03):.3g} mPa*s",
        "expansion": f"{d.spread(2e-3, 4e-3):.3g} 1/K",
    }


def _some(d: _Draw, share: float, **keys: Any) -> dict[str, Any]:
    """Each key with a probability."""
    return {key: value for key, value in keys.items() if d.chance(share)}


def _support(d: _Draw, name: str) -> dict[str, Any]:
    family = d.one(FAMILIES)
    support: dict[str, Any] = {"name": name, "family": family}
    free = family == "parts"
    if family in ("shoe", "clamp", "hanger", "flange") or free:
        support["pad"] = _some(
            d,
            0.5,
            clock=d.clock(),
            arc=f"{d.even(20.0, 120.0):g} deg",
            thickness=d.mm(2.0, 12.0),
            length=d.mm(30.0, 300.0),
            contact_conductance=f"{d.spread(100.0, 1e5):.4g} W/m2/K",
            material=_solid(d) | {"emissivity": 0.3} if d.chance(0.5) else "copper",
        )
    if family in ("shoe", "clamp", "hanger", "trunnion") or (free and d.chance(0.7)):
        films = (
            {"film_coefficient": f"{d.spread(3.0, 30.0):.3g} W/m2/K"},
            {"emissivity": round(d.even(0.05, 0.95), 2)},
        )
        support["leg"] = _some(
            d,
            0.5,
            clock=d.clock(),
            width=d.mm(3.0, 20.0),
            length=d.mm(9.0, 200.0),
            exposed=d.mm(10.0, 500.0),
            **_some(d, 0.5, **d.one(films)),
            material=_solid(d) | {"emissivity": 0.3} if d.chance(0.5) else "copper",
            end=d.one(("free", "held")),
        )
        if support["leg"].get("end") == "held" and d.chance(0.6):
            support["leg"]["end_temperature"] = d.celsius(-30.0, 30.0)
    if family == "cradle" or (free and d.chance(0.5)):
        support["insert"] = _some(
            d,
            0.5,
            clock=d.clock(),
            arc=f"{d.even(30.0, 180.0):g} deg",
            length=d.mm(50.0, 400.0),
            density="180 kg/m3",
            specific_heat="1100 J/kg/K",
        )
        if d.chance(0.4):
            support["insert"]["material"] = d.one(INSULATIONS)
        elif d.chance(0.6):
            support["insert"]["conductivity"] = f"{d.spread(0.03, 0.3):.3g} W/m/K"
    if d.chance(0.5):
        support["material"] = _solid(d) if d.chance(0.5) else d.one(("carbon steel", "stainless steel"))
    support |= _some(
        d,
        0.4,
        spacing=f"{d.even(1.0, 6.0):g} m",
        allowance=f"{d.even(0.0, 1.5):g} m",
        allowance_over=f"{d.even(0.1, 0.9):g} m",
        allowance_on=d.one(("pipe", "pad")),
        barrier_touches=d.chance(0.5),
        barrier_gap=d.mm(1.0, 10.0),
    )
    return support


FITTINGS = ("flange_pair", "gate_valve", "globe_valve", "ball_valve", "strainer", "branch", "pump", "stub")


def _body(d: _Draw, outer: float) -> dict[str, Any]:
    """A body about a pipe of an outer diameter, mm."""
    across = d.chance(0.5)
    wide = outer * d.even(0.2, 0.9) if across else outer * d.even(1.3, 2.5)
    reach = outer * d.even(0.8, 2.0) if across else outer * d.even(0.2, 1.0)
    begin = 0.0 if across else -reach if d.chance(0.7) else 0.4 * reach
    body: dict[str, Any] = {
        "axis": "across" if across else "along",
        "diameter": f"{wide:.5g} mm",
        "from": f"{begin:.5g} mm",
        "to": f"{reach:.5g} mm",
        "cover": d.one(("bare", d.mm(10.0, 80.0))),
    }
    if across:
        body |= {"clock": d.clock()} | _some(d, 0.3, cover_from=f"{0.7 * reach:.5g} mm")
    body |= _some(d, 0.3, material=_solid(d) if d.chance(0.5) else "copper")
    if d.chance(0.6):
        hollow = {"diameter": f"{0.6 * wide:.5g} mm", "to": f"{0.6 * reach:.5g} mm"}
        hollow["filled"] = d.one(("contents", "gas", "metal"))
        body["hollow"] = hollow | _some(d, 0.5, **{"from": "0 mm" if across else f"{begin:.5g} mm"})
    return body


def _fitted(d: _Draw, raw: dict[str, Any], seed: int) -> dict[str, Any]:
    """Every fourth case has a fitting as well, of each family in turn, where the line takes it."""
    if seed % 4 != 2:
        return raw
    family = "parts" if seed % 8 == 2 else FITTINGS[seed // 8 % len(FITTINGS)]
    for _ in range(TRIES):
        changed = copy.deepcopy(raw)
        changed["insulation"] |= {"fit": "snug"}
        changed["insulation"].pop("bore", None)
        fitting: dict[str, Any] = {"name": "V1", "family": family}
        if family == "parts":
            fitting["body"] = [_body(d, 114.3) for _ in range(d.one((1, 2, 3)))]
        else:
            fitting |= _some(
                d, 0.5, cover=d.one(("bare", d.mm(20.0, 60.0))), **{"class": d.one(("150", "300"))}
            )
        changed["pipe"] = {"size": "DN 100", "schedule": "40", "material": raw["pipe"]["material"]}
        fitting |= _some(
            d,
            0.5,
            material=_solid(d) if d.chance(0.5) else "stainless steel",
            emissivity=round(d.even(0.05, 0.95), 2),
            ends=d.one(("open", "closed")),
            allowance=f"{d.even(0.0, 3.0):g} m",
            allowance_on=["body 1"],
        )
        changed["fitting"] = [fitting]
        try:
            parse_case(changed)
        except CaseError:
            continue
        return changed
    return raw


def _later(d: _Draw, raw: dict[str, Any]) -> dict[str, Any]:
    """Controls and episodes. They are only read here; episodes are run by tests of their own."""
    names = [sensor["name"] for sensor in raw.get("sensor", [])]
    control: dict[str, Any] = {"name": "C1", "sensor": d.one((*names, "ambient")), "off_above": "12 degC"}
    control |= {d.one(("on_below", "full_below")): "8 degC"}
    if raw["tracer"]:
        control |= _some(d, 0.5, tracers=[raw["tracer"][0]["name"]])
    change = {"at": "2 h", "supply": 0} | _some(
        d, 0.4, ambient="-5 degC", wind="3 m/s", wind_from=3, output=d.one(("low", "nominal", "high"))
    )
    first: dict[str, Any] = {"name": "E1", "condition": "now", "lasts": "9 h", "change": [change]} | _some(
        d,
        0.4,
        every="10 min",
        weather=str(WEATHER),
        start=d.one(("steady", "5 degC")),
        control=["C1"],
        ambient={"at": [["0 h", "-5 degC"], ["6 h", "-15 degC"]]},
        wind="4 m/s",
        wind_from=d.clock(),
        supply={"at": [["0 h", 1.0], ["3 h", "90 %"]]},
        warm_to="20 degC",
        limits={"hold": "4 h", "warm_up": "6 h", "frozen_share": 0.2},
    )
    if "weather" in first and d.chance(0.5):
        first |= {"weather_from": "01-12 06:30"}
    if "coefficient" not in raw.get("outside", {}) and d.chance(0.5):
        first |= _weather_by_hand(d)
        jump = _weather_by_hand(d)
        first["change"][0] |= _some(d, 0.5, sun=jump["sun"], sky=jump["sky"], rain=False)
    if raw["contents"]["state"] == "flowing":
        first |= {"contents_temperature": d.celsius(5.0, 60.0)}
        first["change"][0] |= {"contents_temperature": d.celsius(5.0, 60.0)}
    if "support" in raw:
        first |= {"support": raw["support"][0]["name"]}
    return {"control": [control], "episode": [first]}


def _weather_by_hand(d: _Draw) -> dict[str, Any]:
    """Sun, sky and rain of an episode, each over time."""
    sun = {
        "absorptivity": d.even(0.1, 0.9),
        "irradiance": {"at": [["0 h", "0 W/m2"], ["3 h", "600 W/m2"]]},
        "clock": {"at": [["0 h", 11], ["6 h", 2]]},
    } | _some(d, 0.5, diffuse="80 W/m2", reflected="30 W/m2")
    moist = {"dew_point": "-90 degC"} | _some(d, 0.5, cloud={"at": [["0 h", 0.0], ["6 h", "80 %"]]})
    sky = d.one(({"temperature": {"at": [["0 h", "-60 degC"], ["9 h", "-40 degC"]]}}, moist))
    return {"sun": sun, "sky": sky, "rain": {"at": [["0 h", False], ["1 h", True], ["90 min", False]]}}


def _outdoors(d: _Draw) -> dict[str, Any]:
    """Sun and sky, or rain, or neither."""
    if d.chance(0.1):
        return {"rain": True}
    beam = {"irradiance": f"{d.even(100.0, 1000.0):.3g} W/m2", "clock": d.clock()}
    place = {
        "date": "2026-06-21",
        "hour": d.even(6.0, 18.0),
        "latitude": d.even(-60.0, 60.0),
        "bearing": 90.0,
    }
    sun = d.one(
        (
            beam | _some(d, 0.8, diffuse="100 W/m2", reflected="150 W/m2"),
            place | _some(d, 0.8, longitude=d.even(-180.0, 180.0), altitude=d.even(0.0, 2000.0), albedo=0.6),
        )
    )
    moist = {"dew_point": d.celsius(-60.0, -51.0)} | d.one(
        ({"correlation": "Berdahl and Martin"}, {"cloud": d.even(0.0, 1.0), "correlation": "Clark and Allen"})
    )
    return _some(
        d,
        0.5,
        sun=sun | {"absorptivity": d.even(0.1, 0.95)},
        sky=d.one(({"temperature": d.celsius(-70.0, 20.0)}, moist)),
    )


def _overrides(d: _Draw, raw: dict[str, Any]) -> dict[str, Any]:
    """Keys of every table, overridden in a condition."""
    contents = _some(d, 0.5, emissivity=d.even(0.1, 0.9), fill=d.even(0.3, 1.0))
    changes: dict[str, Any] = {
        "pipe": {"material": d.one(("PP", "copper"))},
        "contents": contents or {"gas": "nitrogen"},
        "insulation": {
            "layer": {"1": {"wet": {"from_clock": 4.0, "to_clock": 8.0, "factor": d.even(1.5, 8.0)}}}
        },
        "outside": {"coefficient": f"{d.spread(3.0, 40.0):.3g} W/m2/K"},
        "sensor": {"S1": {"clock": d.clock()}},
        "limits": {"wall_max": d.celsius(60.0, 150.0)},
        "design": {"maintain": d.celsius(5.0, 60.0)},
    }
    if raw["tracer"]:
        changes["tracer"] = {raw["tracer"][0]["name"]: {"on": d.chance(0.5), "tolerance": "10 %"}}
        changes["foil"] = {"thickness": d.mm(0.05, 0.2)}
    if "barrier" in raw:
        changes["barrier"] = {"emissivity": d.even(0.1, 0.9)}
    if "support" in raw:
        changes["support"] = {"1": {"allowance": f"{d.even(0.0, 1.0):g} m"}}
    return _some(d, 0.35, **changes)


def _whole(d: _Draw, seed: int) -> dict[str, Any]:
    raw = copy.deepcopy(random_raw(seed))
    _describe(d, raw)
    _judge(d, raw)
    _store(d, raw)
    if d.chance(0.3):
        raw["support"] = [_support(d, name) for name in ("P1", "P2")[: d.one((1, 1, 2))]]
    if d.chance(0.5):
        later = {"name": "later", "ambient": d.celsius(-40.0, 40.0)} | _some(
            d, 0.5, wind="2 m/s", supply=0.95
        )
        raw["condition"].append(later | _overrides(d, raw))
    raw["condition"][-1] |= _outdoors(d)
    if d.chance(0.4):
        raw |= _later(d, raw)
    if d.chance(0.3):
        raw["elbow"] = _some(d, 0.6, outside=d.clock()) | {"radius": f"{d.even(0.8, 3.0):g} m"}
    return raw


def _describe(d: _Draw, raw: dict[str, Any]) -> None:
    """Title, materials, contents and surfaces."""
    if d.chance(0.3):
        raw |= {"tag": "10-P-1234 (invented)", "revision": "B"}
    raw["title"] = d.one(("random (invented)", "зимняя линия 冷 خط (invented)"))
    if d.chance(0.3):
        raw["pipe"]["material"] = _solid(d)
    void = raw["insulation"].get("void", {})
    if void and "conductivity" not in void:
        for surface in ("pipe", "tracer", "insulation"):
            void |= _some(d, 0.4, **{f"{surface}_emissivity": d.even(0.1, 1.0)})
    contents = raw["contents"]
    if d.chance(0.3):
        contents["fluid"] = _liquid(d)
        if d.chance(0.25):  # a gas has no level
            contents["fluid"] = _gas(d)
            contents.pop("fill", None)
    if d.chance(0.3):
        contents["gas"] = _gas(d)
    if contents["state"] == "still" and d.chance(0.15):
        contents["state"] = "buoyant"
    contents |= _some(d, 0.1, average=False, average_holds=d.one(("moments", "average")))
    if "average" in contents:
        contents["average_within"] = "10 min"
    for layer in raw["insulation"]["layer"]:
        layer |= _some(d, 0.2, density=f"{d.even(20.0, 250.0):g} kg/m3", specific_heat="900 J/kg/K")
    if "foil" in raw and d.chance(0.5):
        raw["foil"]["conductivity"] = f"{d.spread(10.0, 390.0):.3g} W/m/K"
        raw["foil"]["contact_conductance"] = d.one(("bonded", f"{d.spread(30.0, 5000.0):.3g} W/m2/K"))
    if "barrier" in raw:
        raw["barrier"] |= _some(d, 0.4, emissivity=d.even(0.05, 0.95))
        if d.chance(0.3):
            raw["barrier"]["conductivity"] = f"{d.spread(0.2, 200.0):.3g} W/m/K"
            if d.chance(0.5):
                raw["barrier"] |= {"material": d.one(BARRIERS)}
            else:
                raw["barrier"].pop("material")
    if d.chance(0.4):
        raw["outside"] = raw.get("outside", {}) | {"emissivity": d.even(0.05, 1.0)}


def _judge(d: _Draw, raw: dict[str, Any]) -> None:
    """Limits and the design's numbers."""
    raw["limits"] = _some(
        d,
        0.6,
        contents_min=d.celsius(-20.0, 20.0),
        wall_min=d.celsius(-20.0, 20.0),
        wall_max=d.celsius(60.0, 150.0),
        sheath_max=d.celsius(60.0, 250.0),
        barrier_max=d.celsius(40.0, 70.0),
        margin=f"{d.even(0.0, 5.0):g} K",
        output_margin=d.one((0.1, "5 %")),
    )
    if not raw["tracer"]:
        raw["limits"].pop("sheath_max", None)
    raw["design"] = _some(
        d,
        0.5,
        maintain=d.celsius(5.0, 60.0),
        heat_loss=f"{d.spread(3.0, 80.0):.3g} W/m",
        output=f"{d.spread(3.0, 80.0):.3g} W/m",
        sheath=d.celsius(30.0, 150.0),
        margin=d.one((0.1, "20 %", -0.05)),
    )


def _store(d: _Draw, raw: dict[str, Any]) -> None:
    """What counts over time: densities and specific heats, a sensor's lag."""
    for sensor in raw.get("sensor", []):
        sensor |= _some(d, 0.3, time_constant="5 min")
    for tracer in raw["tracer"]:
        tracer |= _some(d, 0.3, body_density="1400 kg/m3", body_specific_heat="1300 J/kg/K")
    for key in ("foil", "barrier"):
        if key in raw:
            raw[key] |= _some(d, 0.3, density="2600 kg/m3", specific_heat="880 J/kg/K")
    void = raw["insulation"].get("void", {})
    if "conductivity" in void:
        void |= _some(d, 0.5, density="1600 kg/m3", specific_heat="1200 J/kg/K")


def whole_raw(seed: int) -> dict[str, Any]:
    """A nested dict as a case file gives it, valid, over the whole schema; its first condition is "now"."""
    d = _Draw(seed + 10**6)
    for _ in range(TRIES):
        raw = _whole(d, seed)
        try:
            parse_case(raw)
        except CaseError:
            continue
        return _fitted(d, _classed(raw, seed), seed)
    raise RuntimeError(f"no valid case in {TRIES} draws of seed {seed}")


def _classed(raw: dict[str, Any], seed: int) -> dict[str, Any]:
    """Every third case with supports has a flange of a class as well, where the line takes it."""
    if "support" not in raw or seed % 3:
        return raw
    changed = copy.deepcopy(raw)
    changed["pipe"] = {"size": "DN 100", "schedule": "40", "material": raw["pipe"]["material"]}
    flange = {"family": "flange", "flange_class": ("150", "300")[seed % 2], "pad": {"thickness": "6 mm"}}
    changed["support"].append({"name": "F"} | flange)
    try:
        parse_case(changed)
    except CaseError:
        return raw
    return changed
