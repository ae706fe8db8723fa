"""Contents that move, in a few seconds: where motion begins, friction, walls, and the laws of a fluid by hand.

Friction where the viscosity m varies: of a given flow the curl of div (2 m S) is
(d2/dx2 - d2/dy2)(m (psi_yy - psi_xx)) - 4 d2/dxdy (m psi_xy), which the discrete equations must give.
"""

import numpy as np

from sim.heat.convection import Convection, FlowLaw
from sim.heat.fluid import Buoyancy
from sim.solve.estimate import film
from sim.solve.section import solve_section
from sim.solve.stability import growth
from validation.checks.bore.enclosures import heated_side, square
from validation.checks.bore.unsteady import at_rest, fluid_of, heated_below
from validation.published.rows import Row, Table
from validation.sketches.lines import solid
from validation.sketches.sketch import DEFINED, FLAT, LIQUID, ZERO, Array, case_of, sketch


def onset() -> list[Row]:
    """A square heated from below: still contents lose their stability between two Rayleigh numbers."""
    enclosure = square(16, heated_below, 0.8)
    still = at_rest(enclosure, enclosure.conducting())
    source = "onset at Ra 2585: @luijkx1981 (from memory)"
    table = Table("square heated from below", source, unit="-", why="exact")
    for rayleigh, grows in ((2450.0, 0.0), (2750.0, 1.0)):
        mode = growth(enclosure, Convection(enclosure.flow), fluid_of(rayleigh, 1.0), still)
        name = f"disturbance at Ra {rayleigh:.0f} grows (1) or dies (0)"
        table.within(name, grows, float(mode.real > 0), 0.0)
    return table.rows


def friction() -> list[Row]:
    """A given flow psi = sin2(pi x) sin2(pi y) in a fluid of viscosity exp(x + 0.7 x y)."""

    def sine(a: Array, order: int) -> Array:
        two = 2 * np.pi * a
        return (np.sin(np.pi * a) ** 2, np.pi * np.sin(two), 2 * np.pi**2 * np.cos(two))[order]

    def thick(x: Array, y: Array) -> Array:
        return np.asarray(np.exp(x + 0.7 * y * x))

    def strain(x: Array, y: Array) -> Array:
        return thick(x, y) * (sine(x, 0) * sine(y, 2) - sine(x, 2) * sine(y, 0))

    def shear(x: Array, y: Array) -> Array:
        return thick(x, y) * sine(x, 1) * sine(y, 1)

    h, n = 1e-3, 32
    flow = square(n, heated_side, 0.6).flow
    x, y = flow.site.T
    straight = (strain(x + h, y) + strain(x - h, y) - strain(x, y + h) - strain(x, y - h)) / h**2
    mixed = shear(x + h, y + h) - shear(x + h, y - h) - shear(x - h, y + h) + shear(x - h, y - h)
    exact = (straight - mixed / h**2) * flow.area
    psi, vorticity = sine(x, 0) * sine(y, 0), -(sine(x, 2) * sine(y, 0) + sine(x, 0) * sine(y, 2))
    rim = np.ones(len(flow.rim_cell))
    none = (np.zeros(n * n), 0 * rim)
    computed = Convection(flow).vorticity(FlowLaw(1e30, 0.0, 1.0), psi, vorticity, none, (thick(x, y), rim))
    inner = (np.abs(x - 0.5) < 0.3) & (np.abs(y - 0.5) < 0.3)
    error = float(np.abs(computed - exact)[inner].sum() / np.abs(exact)[inner].sum())
    source = "curl of div (2 m S) of a given flow, " + DEFINED
    why = "1 %: second order on 32 cells"
    return [Row("varying viscosity", source, "error over the sum", 0.0, error, 0.01, why, "-")]


def at_the_walls() -> list[Row]:
    """Vorticity that a given flow has on a wall it sticks to; the same friction beside walls that let it slip."""
    n = 32
    flow = square(n, heated_side, 0.6).flow
    x, y = flow.site.T
    psi = np.sin(np.pi * x) ** 2 * np.sin(np.pi * y) ** 2
    first, second = np.cos(2 * np.pi * x), np.cos(2 * np.pi * y)
    vorticity = -2 * np.pi**2 * (first * np.sin(np.pi * y) ** 2 + second * np.sin(np.pi * x) ** 2)
    computed = Convection(flow).wall_vorticity(psi, vorticity)
    own = flow.rim_cell
    across = np.minimum(x, 1 - x)[own] < np.minimum(y, 1 - y)[own]
    along = np.where(across, y[own], x[own])
    error = float(np.abs(computed + 2 * np.pi**2 * np.sin(np.pi * along) ** 2).max() / (2 * np.pi**2))
    slipping = square(n, heated_side, 0.6, lambda p: np.ones(len(p))).flow
    mode = np.sin(np.pi * x) * np.sin(np.pi * y)
    rim = np.zeros(len(slipping.rim_cell))
    law = FlowLaw(1e30, 0.0, 1.0)
    friction_there = Convection(slipping).vorticity(law, mode, 2 * np.pi**2 * mode, (0 * x, rim))
    exact = -4 * np.pi**4 * mode * slipping.area
    slip = float(np.abs(friction_there - exact).sum() / np.abs(exact).sum())
    source = "a given flow, " + DEFINED
    why = "2 %: second order on 32 cells"
    return [
        Row("walls of a flow", source, "error of the vorticity on a wall", 0.0, error, 0.02, why, "-"),
        Row("walls of a flow", source, "error of the friction where walls slip", 0.0, slip, 0.02, why, "-"),
    ]


def laws() -> list[Row]:
    """Prandtl and Rayleigh number of a liquid and the density that acts in its weight, by hand."""
    fluid = case_of(sketch(contents={"state": "still", "fluid": LIQUID})).contents.fluid
    buoyancy = Buoyancy(fluid, 0.1)
    # k 0.6, rho 1000, c 4200, mu 1e-3, beta 2e-4: a = 1.42857e-7 m2/s, nu = 1e-6
    rayleigh = 9.80665 * 2e-4 * 10.0 * 0.1**3 / (1e-6 * 0.6 / 4.2e6)
    middle = 300.0
    case = case_of(sketch(contents={"state": "mixed", "fluid": LIQUID}))
    thick = LIQUID | {"viscosity": [["0 degC", "0.003 Pa*s"], ["100 degC", "0.001 Pa*s"]]}
    thinning = Buoyancy(case_of(sketch(contents={"state": "still", "fluid": thick})).contents.fluid, 0.1)
    warm = np.array([75.0 + ZERO])
    table = Table("fluid that moves", DEFINED, unit="-", why="rounding")
    law, ends, warmer = buoyancy.law(middle), np.array([295.0, 305.0]), np.array([305.0])
    film_number, thick_at = 0.55 * rayleigh**0.25 * 0.6 / 0.1, thinning.thickness(warm, 50.0 + ZERO)[0]
    for name, exact, computed in (
        ("film of Evans and Stefany, Nu = 0.55 Ra^1/4, W/m2/K", film_number, film(case, 10.0, middle)),
        ("Prandtl number", 7.0, law.prandtl),
        ("Rayleigh number of 10 K over 0.1 m", rayleigh, buoyancy.rayleigh(ends, middle)),
        ("density 5 K above the mean", 999.0, buoyancy.density(warmer, middle)[0]),
        ("its slope, kg/m3/K", -0.2, buoyancy.slope(warmer, middle)[0]),
        ("diffusivity, m2/s", 0.6 / 4.2e6, buoyancy.diffusivity(middle)),
        ("viscosity at 75 over that at 50 degC", 0.75, thick_at),
        ("its slope, 1/K", -0.01, thinning.thickness_slope(warm, 50.0 + ZERO)[0]),
        ("conductivity that carries, W/m/K", 0.6, law.carries),
    ):
        table.within(name, exact, computed, 1e-6 * abs(exact))
    return table.rows


def warm_above() -> list[Row]:
    """A small plastic line of thick oil with a tracer at 3 o'clock: what is warmed rises.

    Without motion 12 and 6 o'clock are mirror images, and what they differ by in the field is the motion's.
    """
    raw = sketch(
        FLAT | {"output": "3 W/m"},
        pipe={"outer_diameter": "24 mm", "wall": "1 mm", "material": solid(0.3)},
        contents={"state": "buoyant", "fluid": LIQUID | {"viscosity": "0.02 Pa*s"}},
        outside__coefficient="10 W/m2/K",
        layer__thickness="10 mm",
        sensor=[{"name": "top", "clock": 12}, {"name": "bottom", "clock": 6}],
    )
    result = solve_section(case_of(raw), fineness=1.0)
    difference = result.value("sensors.top.reading") - result.value("sensors.bottom.reading")
    spread = result.value("wall.max") - result.value("wall.min")
    bound = "a bound from the definition: warm liquid rises, and no reading lies outside the wall's extremes"
    name, why = (
        "12 over 6 o'clock, share of the wall's spread",
        "between 0.05 and 0.95; 0 without motion, negative upside down",
    )
    kept, loss = "conservation of energy, from the definition", result.value("heat_out")
    return [
        Row("contents that move", bound, name, 0.5, difference / spread, 0.45, why, "-"),
        Row("contents that move", kept, "loss", 3.0, loss, 1e-4, "the solver's tolerance", "W/m"),
    ]


GROUPS = (onset, friction, at_the_walls, laws, warm_above)
