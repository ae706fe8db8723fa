"""Outer diameter and thickness of pipe flanges by nominal size and class."""

SOURCE = "ASME B16.5, as tabled in bd_warehouse (Apache-2.0)"

# {class: {NPS: (outer diameter, thickness of one flange) in mm}}; only what was seen in the source.
FLANGES: dict[str, dict[float, tuple[float, float]]] = {
    "150": {
        1.0: (110.0, 12.7),
        1.25: (115.0, 14.3),
        1.5: (125.0, 15.9),
        2.0: (150.0, 17.5),
        2.5: (180.0, 20.7),
        3.0: (190.0, 22.3),
        4.0: (230.0, 22.3),
        6.0: (280.0, 23.9),
        8.0: (345.0, 27.0),
        10.0: (405.0, 28.6),
        12.0: (485.0, 30.2),
    },
    "300": {
        1.25: (135.0, 17.5),
        1.5: (155.0, 19.1),
        2.0: (165.0, 20.7),
        2.5: (190.0, 23.9),
        3.0: (210.0, 27.0),
        4.0: (255.0, 30.2),
        6.0: (320.0, 35.0),
    },
}


def flange(nps: float, flange_class: str) -> tuple[float, float] | None:
    """(outer diameter, thickness of one flange) in metres; None where the table has none."""
    dimensions = FLANGES[flange_class].get(nps)
    return None if dimensions is None else (dimensions[0] / 1e3, dimensions[1] / 1e3)


def sizes_in_words(flange_class: str) -> str:
    """The sizes that a class is known in."""
    return ", ".join(f"NPS {nps:g}" for nps in FLANGES[flange_class])
