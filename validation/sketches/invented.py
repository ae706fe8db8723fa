"""Sections on which the program is compared with the independent finite-element solution.

Every size, material and heat here is invented for the comparison; none is a product or a plant. The outside
coefficient is fixed and every void has a given conductivity, so that the comparison is of geometry, mesh and
conduction alone. Each value of `SECTIONS` is a case as a case file would hold it.
"""

from __future__ import annotations

from typing import Any

STEEL = {"conductivity": "50 W/m/K", "density": "7850 kg/m3", "specific_heat": "470 J/kg/K"}
STAINLESS = {"conductivity": "15 W/m/K", "density": "7900 kg/m3", "specific_heat": "500 J/kg/K"}
PLASTIC = {"conductivity": "0.4 W/m/K", "density": "950 kg/m3", "specific_heat": "1900 J/kg/K"}
LIQUID = {
    "conductivity": "0.6 W/m/K",
    "density": "1000 kg/m3",
    "specific_heat": "4200 J/kg/K",
    "viscosity": "0.001 Pa s",
    "expansion": "2e-4 1/K",
}
GAS = {
    "conductivity": "0.026 W/m/K",
    "density": "1.2 kg/m3",
    "specific_heat": "1006 J/kg/K",
    "viscosity": "1.8e-5 Pa s",
    "expansion": "0.0035 1/K",
}
FROST = [{"name": "frost", "ambient": "-10 degC"}]


def _pipe(outer: str, wall: str, material: dict[str, str]) -> dict[str, Any]:
    return {"outer_diameter": outer, "wall": wall, "material": material}


def _round(clock: float, diameter: str, output: Any, **more: Any) -> dict[str, Any]:
    return {"clock": clock, "shape": "round", "diameter": diameter, "output": output} | {"name": "T1"} | more


def _flat(clock: float, width: str, height: str, output: Any, **more: Any) -> dict[str, Any]:
    head = {"name": "T1", "clock": clock, "shape": "flat", "width": width, "height": height, "output": output}
    return head | more


def _layer(thickness: str, conductivity: Any, **more: Any) -> dict[str, Any]:
    return {"thickness": thickness, "conductivity": conductivity} | more


def _still(**more: Any) -> dict[str, Any]:
    return {"state": "still", "fluid": LIQUID, "gas": GAS} | more


DN100 = _pipe("114.3 mm", "6.02 mm", STEEL)
DN50 = _pipe("60.3 mm", "3.91 mm", STEEL)
ADIABATIC = {"state": "empty", "film_coefficient": "0 W/m2/K", "gas": GAS}
TEN = {"coefficient": "10 W/m2/K"}

SECTIONS: dict[str, dict[str, Any]] = {
    "round_still": {
        "title": "Round tracer on a steel line, still contents, snug insulation",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(5.0, "10 mm", "20 W/m")],
        "insulation": {"fit": "snug", "layer": [_layer("50 mm", "0.04 W/m/K")]},
        "outside": TEN,
        "condition": FROST,
    },
    "flat_mixed": {
        "title": "Flat tracer on a small steel line, mixed contents",
        "pipe": DN50,
        "contents": {"state": "mixed", "fluid": LIQUID, "film_coefficient": "80 W/m2/K"},
        "tracer": [_flat(4.5, "12 mm", "4 mm", "15 W/m")],
        "insulation": {"fit": "snug", "layer": [_layer("40 mm", "0.038 W/m/K")]},
        "outside": TEN,
        "condition": FROST,
    },
    "stainless_empty": {
        "title": "Thin stainless line, empty with an adiabatic bore, metal-sheathed round tracer",
        "pipe": _pipe("88.9 mm", "2.11 mm", STAINLESS),
        "contents": ADIABATIC,
        "tracer": [
            _round(6.0, "5 mm", "30 W/m", body_conductivity="5 W/m/K", contact_width="0.6 mm")
            | {"contact_conductance": "900 W/m2/K"}
        ],
        "insulation": {"fit": "snug", "layer": [_layer("60 mm", "0.045 W/m/K")]},
        "outside": {"coefficient": "15 W/m2/K"},
        "condition": FROST,
    },
    "plastic_two_foil": {
        "title": "Plastic line, two flat tracers under foil, voids bridged",
        "pipe": _pipe("90 mm", "8.2 mm", PLASTIC),
        "contents": _still(),
        "tracer": [
            _flat(4.0, "11 mm", "5 mm", "8 W/m", contact_conductance="300 W/m2/K"),
            _flat(8.0, "11 mm", "5 mm", "12 W/m", contact_conductance="300 W/m2/K", name="T2"),
        ],
        "foil": {"thickness": "0.08 mm", "conductivity": "160 W/m/K", "contact_conductance": "bonded"},
        "insulation": {
            "fit": "bridged",
            "void": {"conductivity": "0.03 W/m/K"},
            "layer": [_layer("30 mm", "0.036 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "bridged_round": {
        "title": "Round tracer with bridged voids",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(7.0, "12 mm", "25 W/m")],
        "insulation": {
            "fit": "bridged",
            "void": {"conductivity": "0.06 W/m/K"},
            "layer": [_layer("50 mm", "0.04 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "bridged_flat": {
        "title": "Flat tracer with bridged voids, mixed contents",
        "pipe": DN50,
        "contents": {"state": "mixed", "fluid": LIQUID, "film_coefficient": "50 W/m2/K"},
        "tracer": [_flat(6.0, "13 mm", "6 mm", "18 W/m")],
        "insulation": {
            "fit": "bridged",
            "void": {"conductivity": "0.05 W/m/K"},
            "layer": [_layer("40 mm", "0.04 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "hanging_shell": {
        "title": "Oversize shell hanging on the pipe, round tracer in the gap",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(5.0, "10 mm", "25 W/m")],
        "insulation": {
            "fit": "oversize",
            "bore": "141.3 mm",
            "void": {"conductivity": "0.07 W/m/K"},
            "layer": [_layer("50 mm", "0.04 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "half_filled": {
        "title": "Drain filled to 45 percent of its bore, tracer at the bottom",
        "pipe": _pipe("88.9 mm", "5.49 mm", STAINLESS),
        "contents": _still(fill=0.45),
        "tracer": [_flat(6.5, "10 mm", "4 mm", "15 W/m")],
        "insulation": {"fit": "snug", "layer": [_layer("30 mm", "0.04 W/m/K")]},
        "outside": TEN,
        "condition": FROST,
    },
    "wet_sector": {
        "title": "Bottom of the insulation wet, from 4 to 8 o'clock",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(3.0, "10 mm", "30 W/m")],
        "insulation": {
            "fit": "snug",
            "layer": [_layer("50 mm", "0.04 W/m/K", wet={"from_clock": 4.0, "to_clock": 8.0, "factor": 4.0})],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "two_layers_barrier": {
        "title": "Two layers, the outer with k over temperature, under a conducting weather barrier",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(5.0, "8 mm", "35 W/m")],
        "insulation": {
            "fit": "snug",
            "layer": [
                _layer("25 mm", "0.05 W/m/K"),
                _layer("40 mm", [["-20 degC", "0.032 W/m/K"], ["80 degC", "0.047 W/m/K"]]),
            ],
        },
        "barrier": {"thickness": "0.6 mm", "conductivity": "160 W/m/K", "emissivity": 0.3},
        "outside": TEN,
        "condition": FROST,
    },
    "flat_regulating": {
        "title": "Self-regulating flat tracer, two temperatures of k over the layer",
        "pipe": DN50,
        "contents": _still(),
        "tracer": [
            _flat(
                5.0,
                "12 mm",
                "5 mm",
                {"at": [["-10 degC", "40 W/m"], ["20 degC", "30 W/m"], ["80 degC", "5 W/m"]]},
            )
        ],
        "insulation": {
            "fit": "snug",
            "layer": [_layer("40 mm", [["-20 degC", "0.034 W/m/K"], ["80 degC", "0.05 W/m/K"]])],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "flowing_two_round": {
        "title": "Flowing contents, two round tracers of different output",
        "pipe": DN100,
        "contents": {
            "state": "flowing",
            "fluid": LIQUID,
            "temperature": "40 degC",
            "film_coefficient": "300 W/m2/K",
        },
        "tracer": [_round(4.0, "10 mm", "20 W/m"), _round(8.0, "8 mm", "10 W/m", name="T2")],
        "insulation": {"fit": "snug", "layer": [_layer("50 mm", "0.04 W/m/K")]},
        "outside": TEN,
        "condition": FROST,
    },
    "hanging_on_tracer": {
        "title": "Oversize shell resting on a round tracer at 12 o'clock, bottom wet",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(12.0, "10 mm", "25 W/m")],
        "insulation": {
            "fit": "oversize",
            "bore": "141.3 mm",
            "void": {"conductivity": "0.07 W/m/K"},
            "layer": [_layer("40 mm", "0.04 W/m/K", wet={"from_clock": 5.0, "to_clock": 7.0, "factor": 3.0})],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "round_foil": {
        "title": "Round tracer under foil, voids bridged, thin stainless wall",
        "pipe": _pipe("60.3 mm", "2.77 mm", STAINLESS),
        "contents": {"state": "mixed", "fluid": LIQUID, "film_coefficient": "60 W/m2/K"},
        "tracer": [_round(6.0, "8 mm", "20 W/m")],
        "foil": {"thickness": "0.06 mm", "conductivity": "160 W/m/K", "contact_conductance": "bonded"},
        "insulation": {
            "fit": "bridged",
            "void": {"conductivity": "0.04 W/m/K"},
            "layer": [_layer("40 mm", "0.04 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "lifted_round": {
        "title": "Round tracer lifted off the pipe by 1 mm, air in its hull",
        "pipe": DN100,
        "contents": _still(),
        "tracer": [_round(5.0, "10 mm", "20 W/m", standoff="1 mm")],
        "insulation": {
            "fit": "snug",
            "void": {"conductivity": "0.05 W/m/K"},
            "layer": [_layer("50 mm", "0.04 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
    "plain": {
        "title": "Insulated line without a tracer, flowing contents",
        "pipe": DN100,
        "contents": {
            "state": "flowing",
            "fluid": LIQUID,
            "temperature": "60 degC",
            "film_coefficient": "200 W/m2/K",
        },
        "insulation": {
            "fit": "snug",
            "layer": [_layer("30 mm", "0.05 W/m/K"), _layer("30 mm", "0.035 W/m/K")],
        },
        "outside": TEN,
        "condition": FROST,
    },
}
