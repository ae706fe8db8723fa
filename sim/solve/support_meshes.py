"""One support in one condition: what it drains, what it does to the line, and what its allowance restores."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from sim.case import Case, Fitting, Support
from sim.heat.film import range_notes
from sim.heat.support_layers import LegFin, exposed_part
from sim.section.extrude import Layers
from sim.section.fitting_cells import Cells
from sim.section.mesh import PlanMesh
from sim.section.shapes import Array
from sim.solve.allowance import CLOSE, SMALLEST
from sim.solve.at_rest import RATIO, SectionResult, band_of
from sim.solve.convergence import Banded, banded
from sim.solve.fitting_measures import OnMesh, with_area_errors
from sim.solve.multigrid import MEMORY_LIMIT
from sim.solve.paths import of_support
from sim.solve.quantities import quantities
from sim.solve.section import solve_section
from sim.solve.steady import Solution, cell_temperature
from sim.solve.support_level import FAR_SHARE, FOR_LIMIT, Level, Line, solve_level
from sim.solve.support_quantities import Band, contents_rows, judged_contents, wall_band

FINENESS = 1.7  # of the finest plan and of its layers
FLOOR = 0.25  # common practice, no source
ALIKE = (
    *("heat_sink", "chi", "bare_loss", "covering_saves", "dip", "fall_max", "fall_mean"),
    *("contents_dip", "leg_heat", "leg_heat_held"),
)
LENGTHS = ("equivalent_tracer_length", "equivalent_line_length", "allowance_enough", "reach")
ROUNDING = 1e-5  # K, W: what the solver's tolerance leaves open


@dataclass(frozen=True)
class Field:
    """A field around a support: cells (layers, cells) K, the wall, lowest contents in each of the wall's rows K, and
    further (e,) K: of a fitting's cells beyond the layers."""

    cells: Array
    wall: Band
    contents: Array
    further: Array


@dataclass(frozen=True)
class SupportResult:
    """A support in one condition: banded numbers by path, the finest mesh and its fields, unknowns of each mesh.

    alone: the tracer alone; installed: with the allowance, None without one; section_wall: (min, max) of the line's
    own wall on the same plan, K; seconds: the finest mesh's computing time by part; unreachable: why an allowance whose
    quantity is infinite cannot be reached; bracketed: the section's contents are a bracket, and so is what
    rests on it; less_output: change of the coldest temperatures as built with the share of output lost that the limits
    ask for, K, by path, on the coarsest mesh; bodies: of each mesh, how large a fitting's bodies are on it; cells: of a
    fitting, those of the finest mesh in space.
    """

    case: Case
    support: Support | Fitting
    quantities: dict[str, Banded]
    mesh: PlanMesh
    layers: Layers
    alone: Field
    installed: Field | None
    section_wall: tuple[float, float]
    line: Line
    unknowns: tuple[int, ...]
    seconds: dict[str, float]
    notes: tuple[str, ...]
    unreachable: dict[str, str]
    bracketed: bool = False
    less_output: dict[str, float] = field(default_factory=dict)
    bodies: tuple[tuple[OnMesh, ...], ...] = ()
    cells: Cells | None = None


def solve_support(
    case: Case,
    support: Support | Fitting,
    fineness: float = FINENESS,
    limit: float = MEMORY_LIMIT,
    progress: Callable[[str], None] | None = None,
    section: SectionResult | None = None,
) -> SupportResult:
    """Solve a support of a case narrowed to one condition on three meshes (ratio sqrt 2 in plan and along z).

    section: the line's own answer, if it is there already. Temperatures are the section's own, from its finer plan,
    less the fall found in three dimensions. Raises NotConverged, TooLarge, or ValueError if it cannot be meshed.
    """
    tell = progress or (lambda what: None)
    line = section or solve_section(case)
    allowed = _allowed(case, line)
    levels: list[dict[str, float]] = []
    unknowns: tuple[int, ...] = ()
    bodies: list[tuple[OnMesh, ...]] = []
    first: Level | None = None
    for k in (2, 1, 0):
        fine = solve_level(case, support, fineness / RATIO**k, limit, tell, first, allowed)
        first = first or fine
        levels.append(fine.values)
        bodies.append(fine.bodies)
        unknowns += (fine.alone.network.nodes,)
    bands: dict[str, Banded] = {}
    for path in levels[-1]:
        coarse, middle, finest = (f.get(path, float("nan")) for f in levels)
        values = (coarse, middle, finest)
        if path in fine.enough:
            bands[path] = _allowance_band(path, values, fine, line)
        else:
            bands[path] = band_of(of_support(path), values, ROUNDING)
    bands = with_area_errors(floored(bands), fine.bodies, ALIKE + LENGTHS)
    _anchor(bands, line)
    at_section = quantities(fine.section)
    unreachable = {path: levels.reason for path, levels in fine.enough.items() if levels.reason}
    return SupportResult(
        case,
        support,
        bands,
        fine.section.network.mesh,
        fine.layers,
        _field(fine.alone),
        _field(fine.installed) if fine.installed is not None else None,
        (at_section["wall.min"], at_section["wall.max"]),
        fine.line,
        unknowns,
        fine.seconds,
        _notes(case, support, fine),
        unreachable,
        line.bracketed,
        first.less_output if first is not None else {},
        tuple(bodies),
        fine.cells,
    )


def floored(bands: dict[str, Banded]) -> dict[str, Banded]:
    """Bands of one field, none far narrower than its fellows'.

    What a support drains and what the wall falls rest on the same heat, so their errors are of one size in parts of
    their values. Three meshes that agree by chance in one of them say nothing: its band is at least `FLOOR` of the
    median share that three meshes of the others are apart.
    """
    alike = [q for path, q in bands.items() if path.rpartition(".")[2] in ALIKE and abs(q.value) > SMALLEST]
    if not alike:
        return bands
    apart = float(np.median([(max(q.values) - min(q.values)) / abs(q.value) for q in alike]))
    return {
        path: replace(q, band=max(q.band, FLOOR * apart * abs(q.value)))
        if path.rpartition(".")[2] in ALIKE + LENGTHS and np.isfinite(q.value)
        else q
        for path, q in bands.items()
    }


def _judged_path(limit: str, at_section: Mapping[str, Banded]) -> str:
    """The section's quantity that a cold limit is held against."""
    return "wall.min" if limit == "wall_min" else judged_contents(at_section)[0]


def _allowed(case: Case, line: SectionResult) -> dict[str, float]:
    """Fall below the section's own temperature that each cold limit allows, K."""
    limits = {"wall_min": case.limits.wall_min, "contents_min": case.limits.contents_min}
    return {
        limit: line.value(_judged_path(limit, line.quantities)) - lowest
        for limit, lowest in limits.items()
        if lowest is not None
    }


def _allowance_band(
    path: str, values: tuple[float, float, float], fine: Level, line: SectionResult
) -> Banded:
    """Band of an allowance: of the meshes, and for a limit's what the section's own band is worth in metres.

    Infinite on every mesh is certain; on some of them only, the band is infinite.
    """
    if np.isinf(values).any():
        band = 0.0 if np.isinf(values).all() else np.inf
        return Banded(values[-1], band, values, float("nan"), values[-1], band == 0.0)
    meshes = banded(values, RATIO, ROUNDING + CLOSE * values[-1])
    if not path.startswith(FOR_LIMIT):
        return meshes
    coldest = line.quantities[_judged_path(path.removeprefix(FOR_LIMIT), line.quantities)]
    return replace(meshes, band=meshes.band + fine.enough[path].per_kelvin * coldest.band)


def _field(solution: Solution) -> Field:
    network = solution.network
    every = cell_temperature(network, solution.temperature)
    cells = network.by_layer(every)
    return Field(cells, wall_band(solution), contents_rows(solution), every[cells.size :])


ANCHORS = (  # a temperature around a support, the section's own, the change between them and its sign
    ("wall_min", "wall.min", "dip", -1),
    ("wall_max", "wall.max", "wall_rise", 1),
    ("contents_min", "contents.min", "contents_dip", -1),
    ("liquid_min", "liquid.min", "liquid_dip", -1),
    ("sheath_max", "sheath_max", "sheath_rise", 1),
    ("barrier_max", "barrier.max", "barrier_rise", 1),
)


def _anchor(bands: dict[str, Banded], section: SectionResult) -> None:
    """Replace temperatures by the section's own less the fall, so that the coarser plan's share of them drops out."""
    at_section = dict(section.quantities)
    sheaths = [at_section[f"tracers.{t.name}.sheath_max"] for t in section.case.tracers]
    if sheaths:
        at_section["sheath_max"] = max(sheaths, key=lambda sheath: sheath.value)
    mean = section.quantities["wall.mean"]
    for path, above in bands.items():
        if path.removeprefix("with_allowance.").startswith("bodies."):
            bands[path] = replace(
                above,
                value=mean.value + above.value,
                values=tuple(mean.value + v for v in above.values),
                band=mean.band + above.band,
                extrapolated=mean.value + above.extrapolated,
                asymptotic=mean.asymptotic and above.asymptotic,
            )
    for prefix in ("", "with_allowance."):
        for name, path, key, sign in ANCHORS:
            change, line = bands.get(prefix + key), at_section.get(path)
            if change is not None and line is not None:
                bands[prefix + name] = replace(
                    change,
                    value=line.value + sign * change.value,
                    values=tuple(line.value + sign * v for v in change.values),
                    band=line.band + change.band,
                    extrapolated=line.extrapolated + sign * change.extrapolated,
                    asymptotic=line.asymptotic and change.asymptotic,
                )


def _fitting_notes(case: Case, fitting: Fitting, level: Level) -> list[str]:
    """What a fitting's field assumes."""
    notes = ["symmetric about its middle; alone on a long line: its neighbours are not counted"]
    errors = ", ".join(f"{100 * b.area_error:+.2f} %" for b in level.bodies)
    notes.append(f"outer area of its bodies on the finest mesh against the true one: {errors}, in the bands")
    if case.tracers:
        notes.append("the line's tracers go straight through it; bodies are cut clear of them")
        notes.append(
            "looped tracer gives its heat evenly to the bodies it lies on: its sheath is not resolved there"
        )
    if case.contents.state in ("still", "empty"):
        notes.append("for the heat sink the bore's surface is at the maintain temperature")
    if case.barrier is not None:
        notes.append(
            "the weather barrier on a fitting's own covers has its emissivity; what it conducts along itself there is"
            " left out"
        )
    if case.contents.state == "buoyant":
        notes.append(
            "around a fitting the contents only conduct: their motion is resolved in the section alone"
        )
    if level.values["far_end"] > FAR_SHARE * max(abs(level.values["dip"]), 0.02):
        notes.append(
            f"at the far end of the stretch the wall differs from the section's by {level.values['far_end']:.2g} K"
        )
    return notes


def _leg_notes(case: Case, support: Support, film: float, root: float) -> list[str]:
    """What the film on the exposed leg is made of, and where that leaves the range of its laws."""
    condition = case.conditions[0]
    part = exposed_part(support, condition.ambient)
    words = f"film on the exposed part of the leg {film:.3g} W/m2/K"
    if part.film is not None:
        return [f"{words}, given: it does not follow the wind"]
    notes = [
        f"{words}: {condition.wind:g} m/s of wind across a cylinder of its perimeter ({1e3 * part.diameter:.0f} mm;"
        " Churchill and Bernstein 1977), free convection (Churchill and Chu 1975) and radiation, emissivity"
        f" {part.emissivity:g}; the clock position the wind blows from does not count"
    ]
    at = {"ambient": condition.ambient, "wind": condition.wind, "diameter": part.diameter}
    return notes + [f"exposed part of the leg: {note}" for note in range_notes(np.array([root]), **at)]


def _notes(case: Case, support: Support | Fitting, level: Level) -> tuple[str, ...]:
    notes = [f"maintain temperature from {level.line.maintain_source}"]
    if isinstance(support, Fitting):
        return (*notes, *_fitting_notes(case, support, level))
    if case.barrier is not None and support.leg is not None:
        touch = "touches the leg" if support.barrier_touches else "is cut clear of the leg"
        notes.append(f"the weather barrier {touch}")
    fin = level.alone.network.outlets.get("fin")
    if isinstance(fin, LegFin):
        notes += _leg_notes(case, support, level.values["leg_film"], fin.mean(level.alone.temperature))
    if case.contents.state in ("still", "empty"):
        notes.append("for the heat sink the bore's surface is at the maintain temperature")
    if case.contents.state == "buoyant":
        notes.append(
            "around a support the contents only conduct: their motion is resolved in the section alone"
        )
    if support.spacing is not None:
        notes.append(f"one of a row of supports {support.spacing:g} m apart")
    elif np.isfinite(level.values["reach"]):
        notes.append(
            "alone on a long line: its neighbours are not counted; one of its kind"
            f" {level.values['reach']:.2g} m away would deepen its dip by up to a tenth, a nearer one by more"
        )
    if support.spacing is None and level.values["far_end"] > FAR_SHARE * max(abs(level.values["dip"]), 0.02):
        notes.append(
            f"at the far end of the stretch the wall differs from the section's by {level.values['far_end']:.2g} K"
        )
    if support.pad is not None and support.pad.arc > 6.26 and case.tracers:
        notes.append("the ring is cut clear of the tracers that pass it")
    return tuple(notes)
