"""Sections on which the program is compared with the independent finite-element solution.

Every size, material and heat here is invented for the comparison; none is a product or a plant. The outside
coefficient is fixed and every void has a given conductivity, so that the comparison is of geometry, mesh and
conduction alone. Each value of `SECTIONS` is a case as a case file would hold it.
"""

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


def _mixed(film: str) -> dict[str, Any]:
    return {"state": "mixed", "fluid": LIQUID, "film_coefficient": film}


def _flowing(temperature: str, film: str) -> dict[str, Any]:
    return {"state": "flowing", "fluid": LIQUID, "temperature": temperature, "film_coefficient": film}


def _insulated(fit: str, *layers: dict[str, Any], void: str = "", **more: Any) -> dict[str, Any]:
    filled = {"void": {"conductivity": void}} if void else {}
    return {"fit": fit, "layer": list(layers)} | filled | more


def _section(
    title: str,
    pipe: dict[str, Any],
    contents: dict[str, Any],
    tracers: list[dict[str, Any]],
    insulation: dict[str, Any],
    **more: Any,
) -> dict[str, Any]:
    heated = {"tracer": tracers} if tracers else {}
    own = {"title": title, "pipe": pipe, "contents": contents, "insulation": insulation}
    return own | heated | {"outside": TEN, "condition": FROST} | more


DN100 = _pipe("114.3 mm", "6.02 mm", STEEL)
DN50 = _pipe("60.3 mm", "3.91 mm", STEEL)
ADIABATIC = {"state": "empty", "film_coefficient": "0 W/m2/K", "gas": GAS}
TEN = {"coefficient": "10 W/m2/K"}

FIFTY = _layer("50 mm", "0.04 W/m/K")
FORTY = _layer("40 mm", "0.04 W/m/K")


def _foil(thickness: str) -> dict[str, str]:
    return {"thickness": thickness, "conductivity": "160 W/m/K", "contact_conductance": "bonded"}


def _wet(start: float, stop: float, factor: float) -> dict[str, float]:
    return {"from_clock": start, "to_clock": stop, "factor": factor}


POOR = {"contact_conductance": "300 W/m2/K"}
SECTIONS: dict[str, dict[str, Any]] = {
    "round_still": _section(
        "Round tracer on a steel line, still contents, snug insulation",
        DN100,
        _still(),
        [_round(5.0, "10 mm", "20 W/m")],
        _insulated("snug", FIFTY),
    ),
    "flat_mixed": _section(
        "Flat tracer on a small steel line, mixed contents",
        DN50,
        _mixed("80 W/m2/K"),
        [_flat(4.5, "12 mm", "4 mm", "15 W/m")],
        _insulated("snug", _layer("40 mm", "0.038 W/m/K")),
    ),
    "stainless_empty": _section(
        "Thin stainless line, empty with an adiabatic bore, metal-sheathed round tracer",
        _pipe("88.9 mm", "2.11 mm", STAINLESS),
        ADIABATIC,
        [
            _round(6.0, "5 mm", "30 W/m", body_conductivity="5 W/m/K", contact_width="0.6 mm")
            | {"contact_conductance": "900 W/m2/K"}
        ],
        _insulated("snug", _layer("60 mm", "0.045 W/m/K")),
        outside={"coefficient": "15 W/m2/K"},
    ),
    "plastic_two_foil": _section(
        "Plastic line, two flat tracers under foil, voids bridged",
        _pipe("90 mm", "8.2 mm", PLASTIC),
        _still(),
        [
            _flat(4.0, "11 mm", "5 mm", "8 W/m", **POOR),
            _flat(8.0, "11 mm", "5 mm", "12 W/m", name="T2", **POOR),
        ],
        _insulated("bridged", _layer("30 mm", "0.036 W/m/K"), void="0.03 W/m/K"),
        foil=_foil("0.08 mm"),
    ),
    "bridged_round": _section(
        "Round tracer with bridged voids",
        DN100,
        _still(),
        [_round(7.0, "12 mm", "25 W/m")],
        _insulated("bridged", FIFTY, void="0.06 W/m/K"),
    ),
    "bridged_flat": _section(
        "Flat tracer with bridged voids, mixed contents",
        DN50,
        _mixed("50 W/m2/K"),
        [_flat(6.0, "13 mm", "6 mm", "18 W/m")],
        _insulated("bridged", FORTY, void="0.05 W/m/K"),
    ),
    "hanging_shell": _section(
        "Oversize shell hanging on the pipe, round tracer in the gap",
        DN100,
        _still(),
        [_round(5.0, "10 mm", "25 W/m")],
        _insulated("oversize", FIFTY, void="0.07 W/m/K", bore="141.3 mm"),
    ),
    "half_filled": _section(
        "Drain filled to 45 percent of its bore, tracer at the bottom",
        _pipe("88.9 mm", "5.49 mm", STAINLESS),
        _still(fill=0.45),
        [_flat(6.5, "10 mm", "4 mm", "15 W/m")],
        _insulated("snug", _layer("30 mm", "0.04 W/m/K")),
    ),
    "wet_sector": _section(
        "Bottom of the insulation wet, from 4 to 8 o'clock",
        DN100,
        _still(),
        [_round(3.0, "10 mm", "30 W/m")],
        _insulated("snug", FIFTY | {"wet": _wet(4.0, 8.0, 4.0)}),
    ),
    "two_layers_barrier": _section(
        "Two layers, the outer with k over temperature, under a conducting weather barrier",
        DN100,
        _still(),
        [_round(5.0, "8 mm", "35 W/m")],
        _insulated(
            "snug",
            _layer("25 mm", "0.05 W/m/K"),
            _layer("40 mm", [["-20 degC", "0.032 W/m/K"], ["80 degC", "0.047 W/m/K"]]),
        ),
        barrier={"thickness": "0.6 mm", "conductivity": "160 W/m/K", "emissivity": 0.3},
    ),
    "flat_regulating": _section(
        "Self-regulating flat tracer, two temperatures of k over the layer",
        DN50,
        _still(),
        [
            _flat(
                5.0,
                "12 mm",
                "5 mm",
                {"at": [["-10 degC", "40 W/m"], ["20 degC", "30 W/m"], ["80 degC", "5 W/m"]]},
            )
        ],
        _insulated("snug", _layer("40 mm", [["-20 degC", "0.034 W/m/K"], ["80 degC", "0.05 W/m/K"]])),
    ),
    "flowing_two_round": _section(
        "Flowing contents, two round tracers of different output",
        DN100,
        _flowing("40 degC", "300 W/m2/K"),
        [_round(4.0, "10 mm", "20 W/m"), _round(8.0, "8 mm", "10 W/m", name="T2")],
        _insulated("snug", FIFTY),
    ),
    "hanging_on_tracer": _section(
        "Oversize shell resting on a round tracer at 12 o'clock, bottom wet",
        DN100,
        _still(),
        [_round(12.0, "10 mm", "25 W/m")],
        _insulated("oversize", FORTY | {"wet": _wet(5.0, 7.0, 3.0)}, void="0.07 W/m/K", bore="141.3 mm"),
    ),
    "round_foil": _section(
        "Round tracer under foil, voids bridged, thin stainless wall",
        _pipe("60.3 mm", "2.77 mm", STAINLESS),
        _mixed("60 W/m2/K"),
        [_round(6.0, "8 mm", "20 W/m")],
        _insulated("bridged", FORTY, void="0.04 W/m/K"),
        foil=_foil("0.06 mm"),
    ),
    "lifted_round": _section(
        "Round tracer lifted off the pipe by 1 mm, air in its hull",
        DN100,
        _still(),
        [_round(5.0, "10 mm", "20 W/m", standoff="1 mm")],
        _insulated("snug", FIFTY, void="0.05 W/m/K"),
    ),
    "plain": _section(
        "Insulated line without a tracer, flowing contents",
        DN100,
        _flowing("60 degC", "200 W/m2/K"),
        [],
        _insulated("snug", _layer("30 mm", "0.05 W/m/K"), _layer("30 mm", "0.035 W/m/K")),
    ),
}
