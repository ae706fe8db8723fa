"""A condition by finite elements on two meshes, run as a program of its own: python -m validation.peers.elements.field.

Finite elements': geometry, curved mesh, conduction, contacts, sheets, lumped contents, radiation across the bore, the
width of voids, iteration and linear solver. Ours: the case, property curves, film laws, the conductivity of air, output
tables.
"""

import logging
from collections.abc import Callable
from typing import Any

import numpy as np

from sim.case import Case
from sim.heat import air, outlets
from sim.heat.bore import bore_coefficient
from validation.peers.elements.bodies import Body, place
from validation.peers.elements.lines import Array
from validation.peers.elements.section import foil_apart, solve_section
from validation.peers.process import serve

LEVELS = (
    (0.35, 0.7),
    (0.5, 1.0),
    (0.7, 1.4),
)  # refinements, coarse and fine; the next pair where a mesh folds
TOLERANCE = 1e-6  # K, largest change in the last round
CUSP_GAP = 5e-7  # m, of the finer; the coarser cuts its cusps at twice that


def not_covered(case: Case) -> str:
    """Why the finite elements cannot solve a condition, in words; empty where they can."""
    if case.contents.state == "buoyant":
        return (
            "contents that move are not in the finite-element solution (its contents conduct or are lumped)"
        )
    if any(t.over for t in case.tracers):
        return "tracers stacked on each other are not in the finite-element solution"
    insulation = case.insulation
    if not insulation.layers and (case.insulation.fit != "snug" or case.foil or case.tracers):
        return "a tracer on a pipe without insulation is not in the finite-element solution"
    bodies = [place(t, case.pipe.outer_radius) for t in case.tracers]
    if (case.foil or case.insulation.fit == "bridged") and any(b.hull > np.pi for b in bodies):
        return "a flat tracer whose hull closes around the pipe is not in the finite-element solution"
    if foil_apart(case) and (insulation.fit != "bridged" or insulation.void.conductivity is not None):
        return (
            "foil with a contact resistance is in the finite-element solution over bridged voids of air alone"
            ' (or with contact_conductance = "bonded")'
        )
    if case.foil and _crowded(bodies):
        return "foil over tracers so close that their hulls meet is not in the finite-element solution"
    return ""


def _crowded(bodies: list[Body]) -> bool:
    """Whether the hulls of two tracers meet: foil then lies on their common outside, which is not drawn here."""
    return any(
        abs(np.angle(a.turn / b.turn)) < a.hull + b.hull for i, a in enumerate(bodies) for b in bodies[:i]
    )


def our_laws(case: Case, now: Callable[[], Case] | None = None) -> dict[str, Any]:
    """What the finite elements take of ours: films outside and in the bore, the conductivity of air.

    now: gives the case whose condition is in force, where that changes with time.
    """
    pipe, insulation, contents = case.pipe, case.insulation, case.contents
    oversize = insulation.fit == "oversize" and insulation.bore is not None
    hole = insulation.bore / 2 if oversize and insulation.bore else pipe.outer_radius

    def outside(surface: Array, angle: Array) -> tuple[Array, Array]:
        loss = outlets.outside(case if now is None else now(), hole + insulation.thickness, surface, angle)
        return loss.conductance, loss.temperature

    films = None
    if contents.state != "still":
        wet = contents.state != "empty" and contents.fill > 0
        liquid = bore_coefficient(contents, 2 * pipe.inner_radius, "liquid")[0] if wet else 0.0
        films = (liquid, bore_coefficient(contents, 2 * pipe.inner_radius, "gas")[0])
    return {"outside": outside, "air": air.conductivity, "bore_films": films}


def by_elements(case: Case, refine: float, cusp_gap: float) -> dict[str, Any]:
    """One mesh; see `solve_section`."""
    return solve_section(case, refine=refine, cusp_gap=cusp_gap, tolerance=TOLERANCE, **our_laws(case))


def two_meshes(given: dict[str, Any]) -> dict[str, Any]:
    """The case `given["case"]` on a coarse and a fine mesh. RuntimeError if no pair of meshes serves."""
    logging.getLogger("skfem").setLevel(logging.ERROR)
    for tries, (coarse, fine) in enumerate(LEVELS, start=1):
        try:
            return {
                "coarse": by_elements(given["case"], coarse, 2 * CUSP_GAP),
                "fine": by_elements(given["case"], fine, CUSP_GAP),
                "refine": (coarse, fine),
            }
        except RuntimeError:
            if tries == len(LEVELS):
                raise
    raise AssertionError


if __name__ == "__main__":
    serve(two_meshes)
