"""Contents that move by their own weight: the flow found on a coarse mesh by raising the weight, then on three.

Steady, laminar, plane. Where no steady flow is found, or its Rayleigh number is beyond what was verified, the
answer is a bracket between contents that only conduct and contents of one temperature: see `sim.solve.bracket`.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from sim.basics import ZERO_CELSIUS
from sim.case import Case
from sim.heat.network import network
from sim.solve.at_rest import MeshStore, SectionResult, bands_of, levels_of
from sim.solve.bounds import with_contents
from sim.solve.bracket import unresolved
from sim.solve.estimate import Estimate, estimate
from sim.solve.motion import TOLERANCE, Motion, NoSteadyFlow, State, Work, steady
from sim.solve.moving import VERIFIED, Moving, carried_over, grading_for, layer_cells
from sim.solve.paths import coldest_contents
from sim.solve.quantities import quantities
from sim.solve.stability import growth
from sim.solve.steady import solve

BEYOND = f"its Rayleigh number exceeds {VERIFIED:.0e}, up to which flows were verified"
HOPELESS = 3.0  # times that, by the estimate's wall: no flow is looked for
MOST_WORK = 4e6  # cells times coupled steps of one condition: some two minutes
FIRST_RAYLEIGH = 1e4  # at which the weight's rise begins
RISE = 10**0.5  # of the weight, from one steady flow to the next
ROUGH = 1e-3  # tolerance of the flows on the way
NEEDED_CELLS = 5  # across the boundary layer on the coarsest mesh, else the bands say so
SCOUT = 1.5  # most fineness of the mesh on which the flow is found
SCOUTED = (1e5, 1e7)  # least and greatest Rayleigh number that mesh is graded for
GROWS = 1.0  # growth rate from which a flow is said not to last, a0 / D2
OTHER_STEPS = 80  # given to the search for a flow that lasts
NOTICED = 1e-3  # K by which the coldest contents leave their bounds before it is explained
UNEVEN = 1.2  # ratio of greatest to least viscosity that is worth a note where the flow takes one value


def scout(
    case: Case, store: MeshStore, fineness: float, work: Work, tell: Callable[[str], None]
) -> tuple[Moving, State]:
    """The flow on a coarse mesh, found by raising the weight from a flow that is nearly still.

    Raises NoSteadyFlow where there is none, or where its Rayleigh number exceeds VERIFIED.
    """
    moving = Moving(case, store.get(case, min(SCOUT, fineness), grading_for(SCOUTED[0])))
    still = solve(moving.network)
    most = moving.rayleigh(still.temperature)
    if most > SCOUTED[0]:
        moving = Moving(case, store.get(case, min(SCOUT, fineness), grading_for(min(most, SCOUTED[1]))))
        still = solve(moving.network)
    state = moving.at_rest(still.temperature)
    weight = min(1.0, FIRST_RAYLEIGH / max(most, 1e-9))
    failures = 0
    while True:
        try:
            motion = moving.steady(state, weight, ROUGH, work)
            state = motion.state
            failures = 0
        except NoSteadyFlow:
            failures += 1
            if weight >= 1.0 or failures > 1 or work.spent:
                raise
        rayleigh = weight * moving.rayleigh(state.temperature)
        tell(f"flow at Rayleigh number {rayleigh:.1e}")
        if rayleigh > VERIFIED:
            raise NoSteadyFlow(BEYOND)
        if weight >= 1.0:
            return moving, state
        weight = min(1.0, weight * RISE)


def solve_buoyant(
    case: Case,
    store: MeshStore,
    fineness: float,
    progress: Callable[[str], None] | None = None,
    most: float = MOST_WORK,
) -> SectionResult:
    """Solve a condition with moving contents on three meshes, or give the bracket.

    most: work it may take, cells times coupled steps. Raises NotConverged if not even the bracket settles, ValueError
    if the section cannot be meshed.
    """
    known = estimate(case, store, fineness, progress)
    otherwise = partial(_otherwise, case, store, fineness, known, progress)
    if not known.outside:
        if progress is not None:
            progress(known.in_brief)
        if known.rayleigh > HOPELESS * VERIFIED:
            return otherwise(BEYOND)
    try:
        result, moving, state, mode = _steady_flow(
            case, store, fineness, Work(most), progress or (lambda what: None)
        )
    except NoSteadyFlow as reason:
        return otherwise(str(reason))
    if mode.real > GROWS:
        _, middle = moving.contents(state.temperature)
        unit = moving.buoyancy.diameter**2 / moving.buoyancy.diffusivity(middle)
        fate = f"small disturbances of its steady flow grow e-fold in {unit / mode.real:.2g} s, so it would not last"
        return otherwise(fate, result)
    return result


def _otherwise(
    case: Case,
    store: MeshStore,
    fineness: float,
    known: Estimate,
    progress: Callable[[str], None] | None,
    reason: str,
    steady: SectionResult | None = None,
) -> SectionResult:
    """What is said where no steady flow is the answer: the averages where they are asked for, or without them."""
    note: tuple[str, ...] = ()
    if case.contents.average:
        from sim.solve.average import average  # needed only where it is asked for
        from sim.solve.track import NotFollowed

        try:
            return average(case, store, fineness, reason, known, progress)
        except NotFollowed as why:
            note = (f"averages were asked for, but the flow was not followed: {why}",)
    result = unresolved(case, store, fineness, reason, progress, steady, known)
    return replace(result, notes=(*note, *result.notes))


def _steady_flow(
    case: Case, store: MeshStore, fineness: float, work: Work, tell: Callable[[str], None]
) -> tuple[SectionResult, Moving, State, complex]:
    """The answer of a steady flow on three meshes; the flow on the finest, and its fastest growing mode.

    Raises NoSteadyFlow where there is none, or where its Rayleigh number exceeds VERIFIED.
    """
    moving, state = scout(case, store, fineness, work, tell)
    grading = grading_for(moving.rayleigh(state.temperature))
    values: list[dict[str, float]] = []
    cells: list[int] = []
    mode = 0j
    for level in levels_of(fineness):
        mesh = store.get(case, level, grading)
        tell(f"{mesh.cells} cells, flow")
        finer = Moving(case, mesh)
        motion = finer.steady(carried_over(moving, state, finer), 1.0, TOLERANCE, work)
        if not values:
            tell("whether the flow lasts")
            motion, mode = lasting(finer, motion, work)
        elif mode.real <= GROWS and len(values) == 2:
            tell("whether it lasts on this mesh")
            mode = growth(finer.heat, finer.convection, finer.fluid, motion.state)
        moving, state = finer, motion.state
        solution = moving.solution(motion)
        values.append({**quantities(solution), **_flow_quantities(moving, motion)})
        cells.append(mesh.cells)
    rayleigh = moving.rayleigh(state.temperature)
    if rayleigh > VERIFIED:
        raise NoSteadyFlow(BEYOND)
    rows = layer_cells(moving.flow, rayleigh, grading, levels_of(fineness)[0])
    notes = (*_notes(moving, state, rayleigh, rows), *_beyond_bounds(moving, values[-1]))
    bands = bands_of(values, case.foil is not None)
    result = SectionResult(
        case, solution, bands, tuple(cells), levels_of(fineness), notes, basis="steady flow"
    )
    return result, moving, state, mode


def lasting(moving: Moving, motion: Motion, work: Work) -> tuple[Motion, complex]:
    """A flow and its fastest growing mode; where it would not last, the flow that a disturbance of it leads to."""
    mode = growth(moving.heat, moving.convection, moving.fluid, motion.state)
    if mode.real <= GROWS:
        return motion, mode
    disturbed = moving.uneven(motion.state)
    try:
        other = steady(
            moving.heat,
            moving.convection,
            moving.fluid,
            disturbed,
            work=work,
            pseudo_time=0.3 / mode.real,
            most=OTHER_STEPS,
        )
    except NoSteadyFlow:
        return motion, mode
    other_mode = growth(moving.heat, moving.convection, moving.fluid, other.state)
    return (other, other_mode) if other_mode.real < mode.real else (motion, mode)


def _flow_quantities(moving: Moving, motion: Motion) -> dict[str, float]:
    cells, middle = moving.contents(motion.state.temperature)
    return {
        "contents.rayleigh": moving.buoyancy.rayleigh(cells, middle),
        "contents.prandtl": moving.buoyancy.law(middle).prandtl,
    }


def _beyond_bounds(moving: Moving, values: Mapping[str, float]) -> tuple[str, ...]:
    """Says why, where the coldest contents lie outside those of contents that stand still or are mixed."""
    part = coldest_contents(values)
    case, mesh = moving.network.case, moving.network.mesh
    still = quantities(solve(moving.network))[part]
    mixed = quantities(solve(network(with_contents(case, state="mixed"), mesh)))[part]
    if still - values[part] > NOTICED:
        return (
            f"the coldest contents are {still - values[part]:.2g} K colder than if they stood still: heated from"
            " above the warm part stays on top, and what cools at the wall sinks to the coldest spot",
        )
    if values[part] - mixed > NOTICED:
        return (
            f"the coldest contents are {values[part] - mixed:.2g} K warmer than if they were mixed: the coldest part"
            " of the bore's wall does not touch them",
        )
    return ()


def _notes(moving: Moving, state: State, rayleigh: float, rows: int) -> tuple[str, ...]:
    cells, middle = moving.contents(state.temperature)
    fluid = moving.buoyancy.fluid
    law = moving.buoyancy.law(middle)
    thick = float(fluid.viscosity(float(cells.min())) / fluid.viscosity(float(cells.max())))
    viscosity = "at the mean" if moving.fluid.thickness is None else f"local, varying {thick:.3g}-fold"
    notes = [
        "contents in steady laminar natural convection (plane, Boussinesq: the density over temperature acts in the"
        f" weight alone; conductivity local, viscosity {viscosity}, the rest at the mean temperature,"
        f" {middle - ZERO_CELSIUS:.1f} degC): Rayleigh {rayleigh:.2e}, Prandtl {law.prandtl:.3g}; {rows} rows of cells"
        " across the boundary layer on the coarsest mesh",
    ]
    if moving.fluid.thickness is None and thick > UNEVEN:
        notes.append(
            f"the viscosity varies {thick:.2f}-fold over the contents; the flow takes it at the mean"
        )
    if rows < NEEDED_CELLS:
        notes.append(
            f"fewer than {NEEDED_CELLS} rows of cells across the boundary layer: use a greater fineness"
        )
    if abs(moving.network.mesh.layout.level) < moving.network.mesh.layout.inner_radius:
        notes.append("the liquid's surface is flat and free of shear; the gas above it only conducts")
    return tuple(notes)
