"""The bore: films of contents that flow, fill level, a partly filled bore with gas and radiation above, grey radiation.

Fill level. A level at the share f of the bore's height leaves (Chow 1959, Open-Channel Hydraulics, appendix A, table of
a circular channel; exact from the circle) the angle w = 2 arccos(1 - 2 f) wetted: area D2 (w - sin w) / 8, perimeter
D w / 2, width D sin(w / 2), hydraulic diameter D (1 - sin w / w).

Partly filled and flowing at a given temperature, the wall one temperature (a metal): three unknowns, wall, liquid's
surface and gas, between films of known length. The liquid's surface sees only the dry wall; if that is black,
radiation between them is exactly width x eps sigma (Ts4 - Tw4); if grey, its own surface resistance comes in series.

Grey bore. Points of a circle see each other with the kernel |sin(a / 2)| / 4 per radian (Siegel and Howell, Thermal
Radiation Heat Transfer, inside of a long cylinder, from memory), whose eigenfunctions are cos n a with the values
1 / (1 - 4 n2). So a wall temperature of cos n a loses, per kelvin, 4 sigma T3 eps (1 - l) / (1 - (1 - eps) l), l that
value, and each harmonic of a heated pipe meets that coefficient besides the gas's film.
"""

from math import acos, log, log10, pi, sin, sqrt
from typing import Any

import numpy as np
from scipy.optimize import fsolve

from validation.checks.conduction.fourier import TwoLayerAnnulus
from validation.published.rows import Row, Table
from validation.sketches.lines import flowing, plain_pipe
from validation.sketches.sketch import (
    COVER,
    DEFINED,
    GAS,
    INNER,
    LIQUID,
    OUTER,
    SIGMA,
    ZERO,
    Array,
    area_of,
    numbers,
    sketch,
    solved,
)
from validation.sketches.sourced import heated_ring

CHOW = {  # level over diameter: area/D2, wetted perimeter/D, hydraulic radius/D, top width/D
    0.25: (0.1535, 1.0472, 0.1466, 0.8660),
    0.50: (0.3927, 1.5708, 0.2500, 1.0000),
    0.75: (0.6318, 2.0944, 0.3017, 0.8660),
}
CHOW_SOURCE = "@chow1959, appendix A (from memory; exact from the circle)"
TUBE = "@incropera, section 8.4 and 8.5 (from memory), Nu = 3.66; @gnielinski1976, worked by hand"
GREY = "@siegelhowell, inside of a long cylinder (from memory); Fourier series of fourier.py"
SURFACE_EMISSIVITY, GAS_FILM = 0.95, 5.0  # assumed by the program: a liquid's surface; gas at rest


def _film(**contents: Any) -> float:
    """Coefficient between contents and wall, from the loss of a line whose insulation is no better than the film."""
    state = {"state": "flowing", "temperature": "100 degC", "fluid": LIQUID, "gas": GAS} | contents
    values = numbers(sketch(contents=state, layer__conductivity="100 W/m/K"), 1.5)
    wall = log(COVER / OUTER) / (2 * pi * 100.0)
    return float(1 / ((100.0 / values["heat_out"] - wall) * 2 * pi * INNER))


def flowing_films() -> list[Row]:
    """A given film, and those of laminar, turbulent and partly filled flow: D 100 mm, k 0.6, Pr 7 or as given."""
    table = Table("film in the bore", TUBE, unit="W/m2/K", why="one mesh")
    # Re 1e4, Pr 7: f = (1.8 lg Re - 1.5)^-2 = 0.030779, Nu = (f/8)(Re - 1000) Pr/(1 + 12.7 sqrt(f/8)(Pr^2/3 - 1))
    between = 3.66 + (3000 - 2300) / (4000 - 2300) * (_gnielinski(4000.0, 7.0) - 3.66)
    table.row("given", 200.0, _film(film_coefficient="200 W/m2/K"), 0.01)
    for name, nusselt, velocity in (
        ("laminar, Re 1000", 3.66, 0.01),
        ("turbulent, Re 1e4, Pr 7", _gnielinski(1e4, 7.0), 0.1),
        ("between, Re 3000, Pr 7", between, 0.03),
    ):
        table.row(name, nusselt * 0.6 / 0.1, _film(velocity=f"{velocity} m/s"), 0.01)
    dittus = 0.023 * 1e5**0.8 * 7.0**0.4 * 6.0
    source = "@incropera, equation 8.60, Nu = 0.023 Re^0.8 Pr^0.4 (from memory)"
    why, name = "what the book allows this older correlation", "turbulent, Re 1e5, Pr 7"
    table.row(name, dittus, _film(velocity="1 m/s"), 0.25, why, source=source)
    return table.rows


def _gnielinski(reynolds: float, prandtl: float) -> float:
    eighth = (1.8 * log10(reynolds) - 1.5) ** -2 / 8
    return eighth * (reynolds - 1000) * prandtl / (1 + 12.7 * sqrt(eighth) * (prandtl ** (2 / 3) - 1))


def fill_level() -> list[Row]:
    """Area of liquid and gas, and the hydraulic diameter that a laminar flow is taken at."""
    table = Table("fill level", CHOW_SOURCE, unit="W/m", why="one mesh")
    for fill, (area, _, radius, _) in CHOW.items():
        full = {"fluid": LIQUID, "gas": GAS, "fill": fill}
        raw = sketch(contents={"state": "still"} | full)
        for kind, exact in (("liquid", area), ("gas", pi / 4 - area)):
            name, ours = (
                f"level at {fill:g}: area of the {kind} over D2",
                area_of(raw, kind) / (2 * INNER) ** 2,
            )
            table.row(name, exact, ours, 0.005, "straight cell faces", "-")
        # the film acts on the wetted wall and on the surface above it, beyond which the gas takes next to nothing
        flow = flowing(100.0, 0.0) | full | {"velocity": "0.004 m/s", "emissivity": 0.0}
        del flow["film_coefficient"]
        taken = numbers(sketch(contents=flow, layer__conductivity="1 W/m/K"), 1.5)["from_contents"]
        exact = _three_nodes(fill, 3.66 * 0.6 / (4 * radius * 2 * INNER), 0.0, 100.0, 1.0)
        table.row(f"level at {fill:g}: heat from laminar flow at 4 A/P", exact, taken, 0.01)
    return table.rows


def _three_nodes(fill: float, film: float, emissivity: float, liquid: float, conductivity: float) -> float:
    """Heat (W/m) from flowing liquid (degC) at a level, by wall, free surface and gas, each one temperature.

    emissivity: of the wall, or 0 for no radiation; conductivity: of the insulation, 0 degC outside.
    """
    insulation = 2 * pi * conductivity / log(COVER / OUTER)
    angle = 2 * acos(1 - 2 * fill)
    wet, dry, width = INNER * angle, INNER * (2 * pi - angle), 2 * INNER * sin(angle / 2)

    # two grey surfaces, of which the flat one sees only the other: surface resistances in series (Incropera, 13.3)
    seen = 1 / (SURFACE_EMISSIVITY * width) + (1 / emissivity - 1) / dry if emissivity > 0 else 0.0

    def imbalance(node: Array) -> list[float]:
        wall, surface, gas = node
        fourth = (surface + ZERO) ** 4 - (wall + ZERO) ** 4
        glow = SIGMA * fourth / seen if emissivity > 0 else 0.0
        to_wall, to_surface = film * wet * (liquid - wall), film * width * (liquid - surface)
        to_gas, gas_to_wall = GAS_FILM * width * (surface - gas), GAS_FILM * dry * (gas - wall)
        return [
            to_wall + glow + gas_to_wall - insulation * wall,
            to_surface - glow - to_gas,
            to_gas - gas_to_wall,
        ]

    wall, surface, _ = fsolve(imbalance, [liquid - 20, liquid - 10, liquid - 15], xtol=1e-9)
    return float(film * wet * (liquid - wall) + film * width * (liquid - surface))


def partly_filled() -> list[Row]:
    """Liquid at 300 degC, black wall above: behind a poor film, and behind a good one under poor insulation."""
    source = f"three unknown temperatures, {DEFINED}; Stefan and Boltzmann"
    table = Table("partly filled bore", source, unit="W/m", why="one mesh")
    for fill, film, grey, insulation in (
        (0.2, 4.0, 1.0, 0.04),
        (0.6, 4.0, 1.0, 0.04),
        (0.2, 40.0, 1.0, 2.0),
        (0.6, 40.0, 1.0, 2.0),
        (0.2, 40.0, 0.3, 2.0),
        (0.8, 40.0, 0.3, 2.0),
    ):
        exact = _three_nodes(fill, film, grey, 300.0, insulation)
        without = _three_nodes(fill, film, 0.0, 300.0, insulation)
        bore = flowing(300.0, film) | {"fill": fill, "fluid": LIQUID, "gas": GAS, "emissivity": grey}
        heat = numbers(sketch(contents=bore, layer__conductivity=f"{insulation} W/m/K"), 1.5)["from_contents"]
        name = f"level at {fill:g}, film {film:g}, emissivity {grey:g} ({without:.3g} W/m without radiation)"
        table.row(name, exact, heat, 0.005)
    return table.rows


def free_surface() -> list[Row]:
    """What joins a liquid's free surface to stirred liquid below and to the gas above: film times Chow's top width."""
    table = Table("fill level", CHOW_SOURCE, unit="W/m/K", why="four digits are printed")
    for fill, (_, _, _, width) in CHOW.items():
        state = {"state": "mixed", "film_coefficient": "30 W/m2/K", "fill": fill, "fluid": LIQUID, "gas": GAS}
        solution = solved(sketch(contents=state), 1.0)
        bore, at = solution.network.bore, solution.balance
        assert bore is not None
        for name, node, film in (("liquid", bore.liquid, 30.0), ("gas", bore.gas, GAS_FILM)):
            joint, exact = (at.a == bore.surface) & (at.b == node), film * width * 2 * INNER
            name = f"level at {fill:g}: free surface to {name}"
            most, joined = 5e-4 * exact, float(at.conductance[joint].sum())
            table.within(name, exact, joined, most)
    return table.rows


def grey_bore() -> list[Row]:
    """An empty plastic pipe heated on an arc: radiation and the gas's film carry heat across the bore."""
    r1, r2, r3, k1, ambient = 0.050, 0.053, 0.093, 0.3, 60.0
    heat, half = 1.0, 0.2
    rows: list[Row] = []
    for emissivity, given in ((1.0, 3.0), (0.5, 3.0), (0.0, None)):
        film = GAS_FILM if given is None else given
        n = np.arange(1, 2001)
        value = 1 / (1 - 4.0 * n**2)
        black = 4 * SIGMA * (ambient + ZERO) ** 3
        radiative = black * emissivity * (1 - value) / (1 - (1 - emissivity) * value)
        exact = TwoLayerAnnulus(
            r1, r2, r3, k1, 0.04, 10.0, heat, 2 * half * r2, "mixed", film_inside=film + radiative
        )
        contents: dict[str, Any] = {"state": "empty", "gas": GAS, "emissivity": emissivity}
        if given is not None:
            contents["film_coefficient"] = f"{given} W/m2/K"
        case = plain_pipe(2 * r2, r2 - r1, k1, [(r3 - r2, 0.04)], 10.0, contents=contents, ambient=ambient)
        ring = heated_ring(case, 2.0, heat, half)
        name = f"grey bore of an empty pipe, emissivity {emissivity:g}, film {film:g}"
        table = Table(name, GREY, rows, "K", "one mesh")
        for degrees in (0.0, 90.0, 180.0):
            angle = np.radians([degrees])
            published = float(exact.outside_of_pipe(angle, 2000)[0])
            table.row(f"pipe's outside at {degrees:.0f} deg", published, float(ring.at(angle)[0]), 0.005)
    return rows


GROUPS = (flowing_films, fill_level, partly_filled, free_surface, grey_bore)
