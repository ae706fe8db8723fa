"""The one-line method against hand-worked numbers and a reprinted table of heat losses."""

from sim.case import case_for, parse_case
from sim.judge.simplified import simplified
from validation.published.rows import Row
from validation.sketches.lines import solid

ZERO = 273.15
SIZES = {"1/2": 0.840, "1": 1.315, "2": 2.375, "4": 4.5, "8": 8.625, "12": 12.75}
LOSS_TABLE = {  # W/ft by difference in degF, 0.5 in of glass fibre
    50.0: (2.5, 3.5, 5.5, 9.6, 17.2, 24.8),
    100.0: (5.2, 7.2, 11.5, 19.9, 35.8, 51.6),
    200.0: (11.2, 15.5, 24.7, 42.7, 76.9, 110.7),
}


def _loss(
    diameter: float,
    thickness: float,
    conductivity: str,
    maintain: float,
    ambient: float,
    wind: float,
    emissivity: float,
) -> tuple[float, float]:
    """Loss (W/m) and surface temperature (degC) of a plain line by the one-line method."""
    case = {
        "title": "simplified",
        "pipe": {"outer_diameter": f"{diameter} m", "wall": f"{diameter / 20} m", "material": solid(50.0)},
        "insulation": {"layer": [{"thickness": f"{thickness} m", "conductivity": conductivity}]},
        "outside": {"emissivity": emissivity},
        "design": {"maintain": f"{maintain} degC"},
        "condition": [{"name": "only", "ambient": f"{ambient} degC", "wind": f"{wind} m/s"}],
    }
    computed = simplified(case_for(parse_case(case), "only"))
    return computed.heat_loss, computed.surface_temperature - ZERO


def by_hand() -> list[Row]:
    """The one-line method worked by hand."""
    hand = "@iec60079302 and @ieee515, films of @iso12241 (formulas from memory), worked by hand"
    windy = _loss(0.1143, 0.05, "0.04 W/m/K", 60.0, -20.0, 5.0, 0.13)
    still = _loss(0.1143, 0.05, "0.04 W/m/K", 60.0, 20.0, 0.0, 0.13)
    numbers_by_hand = [
        ("60 to -20 degC, 5 m/s: loss", 31.57, windy[0], "W/m"),
        ("60 to -20 degC, 5 m/s: surface", -18.95, windy[1], "degC"),
        ("60 to 20 degC, still air: loss", 13.73, still[0], "W/m"),
        ("60 to 20 degC, still air: surface", 25.67, still[1], "degC"),
    ]
    return [
        Row("simplified method", hand, name, published, ours, 0.006, "half a unit of the last digit", unit)
        for name, published, ours, unit in numbers_by_hand
    ]


def loss_table() -> list[Row]:
    """A reprinted table of heat losses."""
    # the table's basis was not seen: k near 24 degC rising with temperature, outdoors in a wind
    glass_fibre, out = "0.036 W/m/K", []
    for difference, listed in LOSS_TABLE.items():
        for (size, inches), published in zip(SIZES.items(), listed, strict=True):
            ambient = -12.0
            loss, _ = _loss(
                inches * 0.0254, 0.0127, glass_fibre, ambient + difference / 1.8, ambient, 9.0, 0.9
            )
            source, name = "@facilitypiping, table 5.3 (basis not seen)", f"NPS {size}, {difference:g} degF"
            why = "15 %: conductivity, wind and ambient of the table are not known"
            pair = published, loss * 0.3048
            out.append(Row("reprinted loss table", source, name, *pair, 0.15 * published, why, "W/ft"))
    return out


GROUPS = (by_hand, loss_table)
