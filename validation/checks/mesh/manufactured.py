"""Order of accuracy in temperature, by manufactured solutions with a jump in conductivity.

The program is steady: there is no order in time to show. Of its own, these run through `voronoi`, `plan_mesh`,
`z_layers`, `network`, `support_network`, `evaluate`, `step_matrix`, `factor` and `Multigrid`. The scheme is
proved first order in the discrete H1 norm; that temperatures at the sites are second order in L2 is the
superconvergence well known of it, proved where sites and centroids make up for each other.

What it does not show: second order of the heat on random cells, where it passes through zero from mesh to mesh (the
errors are in `errors_by_level`, without a row), nor on sections with a tracer's wedge or a void's cusp, where the
exact field is not smooth.
"""

from dataclasses import dataclass

import numpy as np

from validation.checks.mesh.order_fields import Array
from validation.checks.mesh.order_problems import PROBLEMS, Problem, mean
from validation.published.rows import Levels, Row

SOURCE = (
    "@roache1998, manufactured solutions (from memory); @eymard2000, two-point flux: first order in"
    " the discrete H1 norm (from memory); @droniou2017 (abstract): second order in L2"
)
BOX = (
    "As for L2; in the greatest norm h^2 |ln h|: in the plane the scheme's matrix is that of linear finite elements"
    " (@bank1987, @scott1976; both from memory)"
)
ORDER, TOLERANCE = 2.0, 0.2


@dataclass(frozen=True)
class Result:
    """One problem's errors by level (levels,), coarse to fine: mean cell size, m; errors of the cells' temperatures
    over the field's span (l2, largest) and of the heat lost over itself; extent: size of the body, m."""

    name: str
    dimensions: int
    cells: Array
    size: Array
    l2: Array
    largest: Array
    heat: Array
    random: bool
    rounded: bool

    @property
    def extent(self) -> float:
        return float(self.size[0] * self.cells[0] ** (1 / self.dimensions))


def errors_of(problem: Problem, full: bool) -> Result:
    """Solve one problem at its levels, averaged over its seeds."""
    levels = problem.full if full else problem.quick
    errors = [mean([problem.solve(level, seed) for seed in range(problem.seeds)]) for level in levels]
    cells, size, l2, largest, heat = (
        np.array([getattr(e, name) for e in errors], float)
        for name in ("cells", "size", "l2", "largest", "heat")
    )
    return Result(
        problem.name, problem.dimensions, cells, size, l2, largest, heat, problem.seeds > 1, problem.rounded
    )


def errors_by_level(full: bool = False) -> list[Result]:
    """Every problem's errors by level, what the picture of the order of accuracy draws."""
    return [errors_of(problem, full) for problem in PROBLEMS]


def order(size: Array, error: Array) -> float:
    """Slope of log error over log size by least squares."""
    return float(np.polyfit(np.log(size), np.log(error), 1)[0])


def rows_of(result: Result, full: bool) -> list[Row]:
    """The orders of one problem beside 2; that of the heat on the full levels only: it settles later."""
    fine = result.size < 2.02 * result.size[-1]
    levels = f"{len(result.size)} levels, {result.cells[0]:.0f} to {result.cells[-1]:.0f} cells"
    log = order(result.size, result.size**2 * np.log(result.extent / result.size))
    exact = f"0.2: of the constant's own change with h; {levels}"
    logged = f"0.2, and {ORDER - log:.2f} for |ln h| over these {levels}"
    orders = [
        ("temperature, L2, all levels", SOURCE, order(result.size, result.l2), TOLERANCE, exact),
        (
            "temperature, L2, finest halving",
            SOURCE,
            order(result.size[fine], result.l2[fine]),
            TOLERANCE,
            exact,
        ),
        (
            "temperature, greatest error, all levels",
            BOX,
            order(result.size, result.largest),
            TOLERANCE + ORDER - log,
            logged,
        ),
    ]
    if full and not result.random:
        over = np.ones_like(fine) if result.rounded else fine
        name = "heat loss, all levels" if result.rounded else "heat loss, finest halving"
        orders.append((name, SOURCE, order(result.size[over], result.heat[over]), TOLERANCE, exact))
    check = f"order of accuracy, {result.dimensions}D, {result.name}"
    trail = Levels(result.name, result.dimensions, result.size / result.extent, result.l2, result.largest)
    return [
        Row(check, source, name, ORDER, computed, tolerance, reason, "-", levels=trail)
        for name, source, computed, tolerance, reason in orders
    ]


def coarse() -> list[Row]:
    """Every problem at its first levels."""
    return [row for result in errors_by_level(False) for row in rows_of(result, False)]


def deep() -> list[Row]:
    """Every problem at all its levels."""
    return [row for result in errors_by_level(True) for row in rows_of(result, True)]


GROUPS = (coarse,)
LONG = (deep,)
