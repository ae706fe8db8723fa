"""A peer: one section by scikit-fem on the gmsh mesh beside, linear or quadratic triangles, Picard rounds.

Written for speed as a competent user would: one sparse symmetric factor a round by SuperLU's best settings known to us,
laws taken at the integration points, the self-regulating output met exactly within each round.
"""

from typing import Any

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from sim.case import Case
from sim.heat.film import outside_coefficient
from sim.heat.outlets import film_terms
from sim.heat.tracer import tracer_slope, tracer_watts
from sim.section.layout import Layout
from validation.peers.elements.lines import Entries, Lines
from validation.speed.plain_mesh import NAMES, Array, IntArray, PlainMesh, Sizes, plain_mesh

SETTLED = 2e-5  # of the field's range: a round that moves it by less is the last
MOST_ROUNDS = 40


def _quadratic(mesh: PlainMesh, plain: Any) -> tuple[Any, dict[str, IntArray]]:
    """Curved quadratic triangles, and every line with its middle node."""
    from skfem import MeshTri2

    n = mesh.point.shape[1]
    curved = MeshTri2.from_mesh(plain)
    key = np.minimum(*curved.facets) * n + np.maximum(*curved.facets)
    order = np.argsort(key)
    place, lines = curved.doflocs.copy(), {}
    for name, ends in mesh.lines.items():
        code = ends.min(axis=1) * n + ends.max(axis=1)
        facet = order[np.searchsorted(key, code, sorter=order)]
        middle = curved.dofs.facet_dofs[0, facet]
        lines[name] = np.column_stack([ends[:, 0], middle, ends[:, 1]])
        if (circle := mesh.circles[name]) is not None:
            z = mesh.point[:, ends].mean(axis=2)
            off = z[0] + 1j * z[1] - circle[0]
            on = circle[0] + circle[1] * off / np.abs(off)
            place[:, middle] = np.stack([on.real, on.imag])
    return MeshTri2(place, curved.t, sort_t=False), lines


def solve_plain(case: Case, layout: Layout, sizes: Sizes, degree: int) -> dict[str, float]:
    """Sheath maximum K, unknowns, rounds. Raises RuntimeError if the rounds do not settle."""
    from skfem import Basis, BilinearForm, ElementTriP1, ElementTriP2, MeshTri1
    from skfem.helpers import dot, grad

    mesh = plain_mesh(layout, sizes)
    plain = MeshTri1(mesh.point, mesh.triangle, sort_t=False, validate=False)
    if degree == 1:
        basis, lines, place = Basis(plain, ElementTriP1(), intorder=2), mesh.lines, mesh.point
    else:
        curved, lines = _quadratic(mesh, plain)
        basis, place = Basis(curved, ElementTriP2(), intorder=4), curved.doflocs
    n, weight = basis.N, np.asarray(basis.dx)

    @BilinearForm
    def flux(u: Any, v: Any, w: Any) -> Any:
        return w.k * dot(grad(u), grad(v))

    condition, tracer = case.conditions[0], case.tracers[0]
    cover, seat, body = (Lines(place, lines[name]) for name in ("cover", "contact", "body"))
    fixed = _fixed(case, seat, body, cover).matrix(n)
    heated = mesh.region == NAMES.index("tracer")
    share = np.where(heated[:, None], weight, 0.0) / weight[heated].sum()
    shapes = [np.broadcast_to(np.asarray(b[0]), weight.shape) for b in basis.basis]
    source = np.zeros(n)
    for dofs, shape in zip(basis.element_dofs, shapes, strict=True):
        source += np.bincount(dofs, (shape * share).sum(axis=1), n)
    beneath = seat.vector(n) / seat.length
    laws = _Laws(case, mesh)
    film = film_terms(case, layout.cover_radius)
    angle = np.arctan2(*cover.at)
    field = np.full(n, condition.ambient + 20.0)
    outline = np.unique(
        np.concatenate([v.ravel() for k, v in lines.items() if k.startswith(("body", "outl"))])
    )
    for count in range(1, MOST_ROUNDS + 1):
        k = laws(np.asarray(basis.interpolate(field)))
        h = outside_coefficient(cover.values(field), angle, **film)
        outside = Entries()
        outside.blocks(cover.nodes, cover.nodes, cover.mass(h))
        factor = splu(
            csc_matrix(flux.assemble(basis, k=k) + fixed + outside.matrix(n)),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=1,
            options={"SymmetricMode": True},
        )
        still, by_heat = factor.solve(np.stack([cover.vector(n, h * condition.ambient), source], axis=1)).T
        wall = float(beneath @ field)
        for _ in range(MOST_ROUNDS):
            off = wall - beneath @ still - beneath @ by_heat * float(tracer_watts(tracer, condition, wall))
            step = off / (1 - beneath @ by_heat * float(tracer_slope(tracer, condition, wall)))
            wall -= step
            if abs(step) < 1e-9:
                break
        new = still + by_heat * float(tracer_watts(tracer, condition, wall))
        change, field, rounds = float(np.abs(new - field).max()), new, count
        if laws.constant and film["coefficient"] is not None:
            break
        if change < SETTLED * float(np.ptp(field)):
            break
    else:
        raise RuntimeError(f"no convergence: {change:.2g} K a round")
    return {"sheath": float(field[outline].max()), "unknowns": float(n), "rounds": float(rounds)}


def _fixed(case: Case, seat: Lines, body: Lines, cover: Lines) -> Entries:
    """What does not change from round to round: the contact, and the weather barrier along itself."""
    entries, contact = Entries(), seat.mass(case.tracers[0].contact_conductance)
    for a, b, sign in ((seat, seat, 1), (body, body, 1), (seat, body, -1), (body, seat, -1)):
        entries.blocks(a.nodes, b.nodes, sign * contact)
    if case.barrier is not None:
        sheet = cover.stiffness(case.barrier.thickness * case.barrier.conductivity)
        entries.blocks(cover.nodes, cover.nodes, sheet)
    return entries


class _Laws:
    """Conductivity at all integration points for temperatures there."""

    def __init__(self, case: Case, mesh: PlainMesh) -> None:
        body = case.tracers[0].body_conductivity
        layer = case.insulation.layers[0].conductivity
        laws: dict[str, Any] = {
            "contents": case.contents.fluid.conductivity,
            "wall": case.pipe.material.conductivity,
            "tracer": lambda t: np.full_like(t, body),
            "layer": layer,
        }
        void = mesh.region == NAMES.index("void")
        if void.any():
            given = case.insulation.void.conductivity
            if given is None:
                raise ValueError("radiation across a void of air is not in these finite elements")
            laws["void"] = lambda t: np.full_like(t, given)
        self.constant = not void.any() and all(
            getattr(laws[name], "is_constant", False) for name in ("contents", "wall", "layer")
        )
        self.parts = [(mesh.region == NAMES.index(name), law) for name, law in laws.items()]

    def __call__(self, temperature: Array) -> Array:
        k = np.empty_like(temperature)
        for mine, law in self.parts:
            k[mine] = law(temperature[mine])
        return k
