"""Random valid cases over the whole schema, each from one seed. Every number is invented."""

import re
from typing import Any

import numpy as np

from sim.case import Case, CaseError, parse_case

SIZES = tuple(f"DN {n}" for n in (15, 20, 25, 40, 50, 80, 100, 150, 200, 250, 300))
SCHEDULES = ("5S", "10S", "40S", "80S", "160")
METALS_AND_PLASTICS = ("carbon steel", "stainless steel", "copper", "aluminium", "PP", "PTFE", "GRP")
LIQUIDS = ("water", "calcium chloride brine", "ethylene glycol", "light fuel oil", "caustic soda")
INSULATIONS = ("rock wool", "glass fibre", "cellular glass", "elastomer foam", "aerogel", "polyurethane foam")
BARRIERS = ("aluminium", "galvanised steel", "stainless steel", "PVC jacket")
TRIES = 200


class _Draw:
    """Draws of one seed, written as a case file has them."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def one(self, options: Any) -> Any:
        return options[int(self.rng.integers(len(options)))]

    def even(self, low: float, high: float) -> float:
        return float(f"{self.rng.uniform(low, high):.4g}")

    def spread(self, low: float, high: float) -> float:
        """Log-uniform."""
        return float(f"{np.exp(self.rng.uniform(np.log(low), np.log(high))):.4g}")

    def mm(self, low: float, high: float) -> str:
        return f"{self.spread(low, high):g} mm"

    def celsius(self, low: float, high: float) -> str:
        return f"{self.even(low, high):g} degC"

    def clock(self) -> float:
        return float(self.rng.integers(0, 12)) if self.chance(0.4) else self.even(0.0, 12.0)

    def law(self, text: str) -> Any:
        """A value of a law: "1..6 m" even, "3~30 W/m2/K" log-uniform, "clock", "this or that", else the text itself."""
        if text == "clock":
            return self.clock()
        span = re.fullmatch(r"(-?[\d.e+-]+?)(\.\.|~)(-?[\d.e+-]+) ?(.*)", text)
        if span is None:
            return self.one(text.split(" or "))
        value = (self.even if span[2] == ".." else self.spread)(float(span[1]), float(span[3]))
        return f"{value:g} {span[4]}" if span[4] else value

    def some(self, share: float, laws: str, **more: Any) -> dict[str, Any]:
        """Keys by their laws, "key: law; key: law", and more, each with a probability."""
        pairs = (entry.split(": ") for entry in " ".join(laws.split()).split("; "))
        every = {key: self.law(law) for key, law in pairs} | more
        return {key: value for key, value in every.items() if self.chance(share)}

    def all(self, laws: str, **more: Any) -> dict[str, Any]:
        return self.some(1.0, laws, **more)


def _pipe(d: _Draw) -> dict[str, Any]:
    if d.chance(0.6):
        return {"size": d.one(SIZES), "schedule": d.one(SCHEDULES), "material": d.one(METALS_AND_PLASTICS)}
    outer = d.spread(21.0, 330.0)
    wall = max(outer * d.spread(0.015, 0.2), 0.8)
    material: Any = d.one(METALS_AND_PLASTICS)
    if d.chance(0.3):
        material = {"conductivity": f"{d.spread(0.15, 400.0):g} W/m/K"}
        material |= {"density": "5000 kg/m3", "specific_heat": "700 J/kg/K"}
    return {"outer_diameter": f"{outer:g} mm", "wall": f"{wall:.4g} mm", "material": material}


def _contents(d: _Draw) -> dict[str, Any]:
    state = d.one(("flowing", "mixed", "still", "still", "empty"))
    contents: dict[str, Any] = {"state": state, "fluid": d.one(LIQUIDS), "gas": d.one(("air", "nitrogen"))}
    if d.chance(0.4) and state != "empty":
        contents["fill"] = d.one((0.0, 0.01, 0.99, d.even(0.02, 0.98), d.even(0.2, 0.8)))
        if state == "flowing" and contents["fill"] == 0.0:
            contents["fill"] = 0.5
    if state == "flowing":
        contents["temperature"] = d.celsius(5.0, 90.0)
        if d.chance(0.5):
            contents["velocity"] = f"{d.spread(0.01, 3.0):g} m/s"
        else:
            contents["film_coefficient"] = f"{d.spread(20.0, 5000.0):g} W/m2/K"
    elif state in ("mixed", "empty") and d.chance(0.5):
        contents["film_coefficient"] = f"{d.one((0.0, d.spread(1.0, 1000.0))):g} W/m2/K"
    if d.chance(0.3):
        contents["emissivity"] = d.even(0.0, 1.0)
    return contents


def _output(d: _Draw) -> Any:
    watts = d.spread(2.0, 60.0)
    kind = d.one(("fixed", "scaled", "table", "table"))
    if kind == "fixed":
        return f"{watts:g} W/m"
    if kind == "scaled":
        return {"power": f"{watts:g} W/m", "voltage_exponent": d.even(0.5, 2.0)}
    start, step = d.even(-40.0, 10.0), d.spread(8.0, 40.0)
    falling = np.sort(d.rng.uniform(0.0, watts, 4))[::-1]
    rows = [[f"{start + i * step:g} degC", f"{w:.4g} W/m"] for i, w in enumerate(falling)]
    return {"at": rows, "voltage_exponent": d.even(0.5, 2.0)}


def _tracer(d: _Draw, name: str, clock: float) -> dict[str, Any]:
    tracer: dict[str, Any] = {"name": name, "clock": clock, "output": _output(d)}
    if d.chance(0.5):
        size = d.spread(3.0, 20.0)
        tracer |= {"shape": "round", "diameter": f"{size:g} mm"}
        if d.chance(0.6):
            tracer["contact_width"] = f"{size * d.spread(0.02, 0.7):.3g} mm"
    else:
        tracer |= {"shape": "flat", "width": d.mm(4.0, 20.0), "height": d.mm(1.0, 9.0)}
    if d.chance(0.6):
        tracer["body_conductivity"] = f"{d.spread(0.1, 50.0):g} W/m/K"
        tracer["contact_conductance"] = f"{d.spread(10.0, 10000.0):g} W/m2/K"
    if d.chance(0.15):
        tracer["standoff"] = d.mm(0.2, 6.0)
    if d.chance(0.3):
        tracer["tolerance"] = d.even(0.0, 0.3)
    if d.chance(0.15):
        tracer["on"] = False
    return tracer


def _tracers(d: _Draw) -> list[dict[str, Any]]:
    gathered: list[dict[str, Any]] = []
    for i in range(d.one((0, 1, 1, 1, 2, 2, 3))):
        gathered.append(_tracer(d, f"T{i + 1}", d.clock()))
    if gathered and d.chance(0.2):
        lower = gathered[0]
        upper = _tracer(d, "top", lower["clock"]) | {"over": lower["name"]}
        upper.pop("standoff", None)
        gathered.append(upper)
    return gathered


def _layer(d: _Draw) -> dict[str, Any]:
    layer: dict[str, Any] = {"thickness": d.mm(6.0, 90.0)}
    kind = d.one(("material", "constant", "table", "polynomial"))
    if kind == "material":
        layer["material"] = d.one(INSULATIONS)
    elif kind == "constant":
        layer["conductivity"] = f"{d.spread(0.015, 0.3):g} W/m/K"
    elif kind == "table":
        k = d.spread(0.02, 0.06)
        layer["conductivity"] = [["-30 degC", f"{k:g} W/m/K"], ["120 degC", f"{1.6 * k:.4g} W/m/K"]]
    else:
        layer["conductivity"] = {"polynomial": [d.spread(0.02, 0.05), 1e-4]}
    if d.chance(0.3):
        start = d.clock()
        wet: dict[str, Any] = {"from_clock": start, "to_clock": round((start + d.even(0.2, 11.0)) % 12, 4)}
        wet |= {"factor": d.spread(1.0, 20.0)} if d.chance(0.7) else {"conductivity": "0.4 W/m/K"}
        layer["wet"] = wet
    return layer


def _insulation(d: _Draw, pipe: dict[str, Any]) -> dict[str, Any]:
    fit = d.one(("snug", "bridged", "oversize"))
    insulation: dict[str, Any] = {"fit": fit, "layer": [_layer(d) for _ in range(d.one((1, 1, 2, 3)))]}
    if fit == "oversize":
        plain = {"pipe": pipe, "condition": [{"name": "c", "ambient": "0 degC"}]}
        outer = parse_case(plain).pipe.outer_diameter
        insulation["bore"] = f"{1e3 * (outer * d.spread(1.004, 1.5) + d.one((0.0, 0.01, 0.03))):.5g} mm"
    if d.chance(0.5):
        insulation["void"] = (
            {"conductivity": f"{d.spread(0.02, 3.0):g} W/m/K"}
            if d.chance(0.5)
            else {"filling": "air", "emissivity": d.even(0.05, 1.0)}
        )
    return insulation


def _condition(d: _Draw) -> dict[str, Any]:
    condition: dict[str, Any] = {"name": "now", "ambient": d.celsius(-50.0, 50.0)}
    if d.chance(0.6):
        condition["wind"] = f"{d.spread(0.05, 25.0):g} m/s"
        if d.chance(0.5):
            condition["wind_from"] = d.clock()
    if d.chance(0.5):
        condition["supply"] = d.one((0.0, 0.9, 1.1, d.even(0.5, 1.2)))
        condition["output"] = d.one(("low", "nominal", "high"))
    return condition


def _drawn(d: _Draw) -> dict[str, Any]:
    pipe = _pipe(d)
    raw: dict[str, Any] = {
        "title": "random (invented)",
        "pipe": pipe,
        "contents": _contents(d),
        "tracer": _tracers(d),
        "insulation": _insulation(d, pipe),
        "condition": [_condition(d)],
        "sensor": [{"name": "S1", "clock": d.clock()}],
        "limits": {"contents_min": "5 degC", "wall_max": "90 degC", "sheath_max": "120 degC"},
    }
    if not raw["tracer"]:
        del raw["limits"]["sheath_max"]
    if raw["tracer"] and d.chance(0.3):
        raw["foil"] = {"thickness": d.mm(0.02, 0.5)}
    if d.chance(0.7):
        raw["barrier"] = {"thickness": d.mm(0.2, 2.0), "material": d.one(BARRIERS)}
    if d.chance(0.4):
        raw["outside"] = {"coefficient": f"{d.spread(2.0, 50.0):g} W/m2/K"}
    return raw


def random_raw(seed: int) -> dict[str, Any]:
    """A nested dict as a case file gives it, valid: drawn anew (from the same seed) until it is accepted."""
    d = _Draw(seed)
    for _ in range(TRIES):
        raw = _drawn(d)
        try:
            parse_case(raw)
        except CaseError:
            continue
        return raw
    raise RuntimeError(f"no valid case in {TRIES} draws of seed {seed}")


def random_case(seed: int) -> Case:
    """A valid case with one condition, named "now"."""
    return parse_case(random_raw(seed))
