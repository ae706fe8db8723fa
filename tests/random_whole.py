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
    laws = "conductivity: 0.2~300 W/m/K; density: 900~8900 kg/m3; specific_heat: 300~2000 J/kg/K"
    return d.all(laws, name="a solid", source="invented") | d.some(0.5, "emissivity: 0.05..0.95")


def _liquid(d: _Draw) -> dict[str, Any]:
    k = d.spread(0.1, 0.7)
    laws = "specific_heat: 1500~4200 J/kg/K; viscosity: 0.5~5000 mPa*s; expansion: 1e-4~1e-3 1/K"
    return (
        d.all(laws, name="a liquid", phase="liquid", source="invented")
        | {
            "conductivity": [["-50 degC", f"{k:g} W/m/K"], ["150 degC", f"{0.9 * k:.4g} W/m/K"]],
            "density": {"polynomial": [d.even(800.0, 1300.0), -0.3], "range": ["-50 degC", "150 degC"]},
        }
        | (_freezing(d) if d.chance(0.6) else {})
    )


def _freezing(d: _Draw) -> dict[str, Any]:
    start = d.even(-20.0, 10.0)
    share = {"at": [[f"{start - 9:g} degC", 0.6], [f"{start - 1:g} degC", 0.1]]}
    freezing = d.all("latent_heat: 100..350 kJ/kg", freezes_at=f"{start:g} degC")
    freezing["frozen"] = d.all("conductivity: 0.3..2.5 W/m/K; specific_heat: 2000 J/kg/K")
    return freezing | ({"frozen_share": share} if d.chance(0.5) else {})


def _gas(d: _Draw) -> dict[str, Any]:
    laws = """conductivity: 0.01~0.15 W/m/K; density: 0.2~10 kg/m3; specific_heat: 500~5000 J/kg/K;
        viscosity: 8e-3~0.03 mPa*s; expansion: 2e-3~4e-3 1/K"""
    return d.all(laws, name="a gas", phase="gas", source="invented")


def _metal(d: _Draw) -> Any:
    return _solid(d) | {"emissivity": 0.3} if d.chance(0.5) else "copper"


def _support(d: _Draw, name: str) -> dict[str, Any]:
    family = d.one(FAMILIES)
    support: dict[str, Any] = {"name": name, "family": family}
    free = family == "parts"
    if family in ("shoe", "clamp", "hanger", "flange") or free:
        laws = """clock: clock; arc: 20..120 deg; thickness: 2~12 mm; length: 30~300 mm;
            contact_conductance: 100~1e5 W/m2/K"""
        support["pad"] = d.some(0.5, laws, material=_metal(d))
    if family in ("shoe", "clamp", "hanger", "trunnion") or (free and d.chance(0.7)):
        film = d.one(("film_coefficient: 3~30 W/m2/K", "emissivity: 0.05..0.95"))
        laws = "clock: clock; width: 3~20 mm; length: 9~200 mm; exposed: 10~500 mm; end: free or held"
        leg = support["leg"] = d.some(0.5, laws, **d.some(0.5, film), material=_metal(d))
        if leg.get("end") == "held":
            leg |= d.some(0.6, "end_temperature: -30..30 degC")
    if family == "cradle" or (free and d.chance(0.5)):
        laws = """clock: clock; arc: 30..180 deg; length: 50~400 mm; density: 180 kg/m3;
            specific_heat: 1100 J/kg/K"""
        own = ("material: " + " or ".join(INSULATIONS), "conductivity: 0.03~0.3 W/m/K")
        support["insert"] = d.some(0.5, laws) | d.some(0.7, d.one(own))
    if d.chance(0.5):
        support["material"] = _solid(d) if d.chance(0.5) else d.one(("carbon steel", "stainless steel"))
    laws = """spacing: 1..6 m; allowance: 0..1.5 m; allowance_over: 0.1..0.9 m; allowance_on: pipe or pad;
        barrier_gap: 1~10 mm"""
    return support | d.some(0.4, laws, barrier_touches=d.chance(0.5))


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
        body |= {"clock": d.clock()} | d.some(0.3, f"cover_from: {0.7 * reach:.5g} mm")
    body |= {"material": _metal(d)} if d.chance(0.3) else {}
    if d.chance(0.6):
        begins = {"from": "0 mm" if across else f"{begin:.5g} mm"} if d.chance(0.5) else {}
        hollow = {"diameter": f"{0.6 * wide:.5g} mm", "to": f"{0.6 * reach:.5g} mm"} | begins
        body["hollow"] = hollow | d.all("filled: contents or gas or metal")
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
            fitting |= d.some(0.5, "class: 150 or 300", cover=d.one(("bare", d.mm(20.0, 60.0))))
        changed["pipe"] = {"size": "DN 100", "schedule": "40", "material": raw["pipe"]["material"]}
        laws = "emissivity: 0.05..0.95; ends: open or closed; allowance: 0..3 m"
        material = _solid(d) if d.chance(0.5) else "stainless steel"
        fitting |= d.some(0.5, laws, material=material, allowance_on=["body 1"])
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
    if raw["tracer"] and d.chance(0.5):
        control |= {"tracers": [raw["tracer"][0]["name"]]}
    laws = "ambient: -5 degC; wind: 3 m/s; output: low or nominal or high"
    change = {"at": "2 h", "supply": 0} | d.some(0.4, laws, wind_from=3)
    first: dict[str, Any] = {"name": "E1", "condition": "now", "lasts": "9 h", "change": [change]}
    first |= d.some(
        0.4,
        f"every: 10 min; weather: {WEATHER}; start: steady or 5 degC; wind: 4 m/s; wind_from: clock; warm_to: 20 degC",
        control=["C1"],
        ambient={"at": [["0 h", "-5 degC"], ["6 h", "-15 degC"]]},
        supply={"at": [["0 h", 1.0], ["3 h", "90 %"]]},
        limits={"hold": "4 h", "warm_up": "6 h", "frozen_share": 0.2},
    )
    if "weather" in first and d.chance(0.5):
        first |= {"weather_from": "01-12 06:30"}
    if "coefficient" not in raw.get("outside", {}) and d.chance(0.5):
        first |= _weather_by_hand(d)
        jump = _weather_by_hand(d)
        first["change"][0] |= {key: jump[key] for key in ("sun", "sky") if d.chance(0.5)}
        first["change"][0] |= {"rain": False} if d.chance(0.5) else {}
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
    } | d.some(0.5, "diffuse: 80 W/m2; reflected: 30 W/m2")
    moist = {"dew_point": "-90 degC"}
    moist |= {"cloud": {"at": [["0 h", 0.0], ["6 h", "80 %"]]}} if d.chance(0.5) else {}
    sky = d.one(({"temperature": {"at": [["0 h", "-60 degC"], ["9 h", "-40 degC"]]}}, moist))
    return {"sun": sun, "sky": sky, "rain": {"at": [["0 h", False], ["1 h", True], ["90 min", False]]}}


def _outdoors(d: _Draw) -> dict[str, Any]:
    """Sun and sky, or rain, or neither."""
    if d.chance(0.1):
        return {"rain": True}
    beam = d.all("irradiance: 100..1000 W/m2; clock: clock")
    place = d.all("date: 2026-06-21; hour: 6..18; latitude: -60..60", bearing=90.0)
    far = d.some(0.8, "longitude: -180..180; altitude: 0..2000", albedo=0.6)
    sun = d.one((beam | d.some(0.8, "diffuse: 100 W/m2; reflected: 150 W/m2"), place | far))
    cloudy = d.all("cloud: 0..1; correlation: Clark and Allen")
    moist = d.all("dew_point: -60..-51 degC") | d.one(({"correlation": "Berdahl and Martin"}, cloudy))
    sky = d.one((d.all("temperature: -70..20 degC"), moist))
    sun |= d.all("absorptivity: 0.1..0.95")
    return {key: value for key, value in (("sun", sun), ("sky", sky)) if d.chance(0.5)}


def _overrides(d: _Draw, raw: dict[str, Any]) -> dict[str, Any]:
    """Keys of every table, overridden in a condition."""
    wet = d.all("factor: 1.5..8", from_clock=4.0, to_clock=8.0)
    changes: dict[str, Any] = {
        "pipe": d.all("material: PP or copper"),
        "contents": d.some(0.5, "emissivity: 0.1..0.9; fill: 0.3..1") or {"gas": "nitrogen"},
        "insulation": {"layer": {"1": {"wet": wet}}},
        "outside": d.all("coefficient: 3~40 W/m2/K"),
        "sensor": {"S1": d.all("clock: clock")},
        "limits": d.all("wall_max: 60..150 degC"),
        "design": d.all("maintain: 5..60 degC"),
    }
    if raw["tracer"]:
        changes["tracer"] = {raw["tracer"][0]["name"]: {"on": d.chance(0.5), "tolerance": "10 %"}}
        changes["foil"] = d.all("thickness: 0.05~0.2 mm")
    if "barrier" in raw:
        changes["barrier"] = d.all("emissivity: 0.1..0.9")
    if "support" in raw:
        changes["support"] = {"1": d.all("allowance: 0..1 m")}
    return {key: value for key, value in changes.items() if d.chance(0.35)}


def _whole(d: _Draw, seed: int) -> dict[str, Any]:
    raw = copy.deepcopy(random_raw(seed))
    _describe(d, raw)
    _judge(d, raw)
    _store(d, raw)
    if d.chance(0.3):
        raw["support"] = [_support(d, name) for name in ("P1", "P2")[: d.one((1, 1, 2))]]
    if d.chance(0.5):
        later = d.all("ambient: -40..40 degC", name="later") | d.some(0.5, "wind: 2 m/s", supply=0.95)
        raw["condition"].append(later | _overrides(d, raw))
    raw["condition"][-1] |= _outdoors(d)
    if d.chance(0.4):
        raw |= _later(d, raw)
    if d.chance(0.3):
        raw["elbow"] = d.some(0.6, "outside: clock") | d.all("radius: 0.8..3 m")
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
        own = (f"{surface}_emissivity: 0.1..1" for surface in ("pipe", "tracer", "insulation"))
        void |= d.some(0.4, "; ".join(own))
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
    contents |= d.some(0.1, "average_holds: moments or average", average=False)
    if "average" in contents:
        contents["average_within"] = "10 min"
    for layer in raw["insulation"]["layer"]:
        layer |= d.some(0.2, "density: 20..250 kg/m3; specific_heat: 900 J/kg/K")
    if "foil" in raw and d.chance(0.5):
        contact = d.one(("bonded", "30~5000 W/m2/K"))
        raw["foil"] |= d.all(f"conductivity: 10~390 W/m/K; contact_conductance: {contact}")
    if "barrier" in raw:
        raw["barrier"] |= d.some(0.4, "emissivity: 0.05..0.95")
        if d.chance(0.3):
            raw["barrier"] |= d.all("conductivity: 0.2~200 W/m/K")
            if d.chance(0.5):
                raw["barrier"] |= {"material": d.one(BARRIERS)}
            else:
                raw["barrier"].pop("material")
    if d.chance(0.4):
        raw["outside"] = raw.get("outside", {}) | d.all("emissivity: 0.05..1")


def _judge(d: _Draw, raw: dict[str, Any]) -> None:
    """Limits and the design's numbers."""
    laws = """contents_min: -20..20 degC; wall_min: -20..20 degC; wall_max: 60..150 degC;
        sheath_max: 60..250 degC; barrier_max: 40..70 degC; margin: 0..5 K"""
    raw["limits"] = d.some(0.6, laws, output_margin=d.one((0.1, "5 %")))
    if not raw["tracer"]:
        raw["limits"].pop("sheath_max", None)
    laws = "maintain: 5..60 degC; heat_loss: 3~80 W/m; output: 3~80 W/m; sheath: 30..150 degC"
    raw["design"] = d.some(0.5, laws, margin=d.one((0.1, "20 %", -0.05)))


def _store(d: _Draw, raw: dict[str, Any]) -> None:
    """What counts over time: densities and specific heats, a sensor's lag."""
    for sensor in raw.get("sensor", []):
        sensor |= d.some(0.3, "time_constant: 5 min")
    for tracer in raw["tracer"]:
        tracer |= d.some(0.3, "body_density: 1400 kg/m3; body_specific_heat: 1300 J/kg/K")
    for key in ("foil", "barrier"):
        if key in raw:
            raw[key] |= d.some(0.3, "density: 2600 kg/m3; specific_heat: 880 J/kg/K")
    void = raw["insulation"].get("void", {})
    if "conductivity" in void:
        void |= d.some(0.5, "density: 1600 kg/m3; specific_heat: 1200 J/kg/K")


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
