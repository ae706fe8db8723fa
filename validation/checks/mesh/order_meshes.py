"""Meshes of the unit square for the order of accuracy: uniform, graded and random, as the program's own cells.

Sites lie in mirrored pairs across the interface x = 1/2 and across the boundary, as the program's do, so that the faces
of `sim.section.mesh.voronoi` lie on both.
"""

from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from sim.case import Case
from sim.heat.joints import Faces, Halves, Joints, joined
from sim.heat.network import ONE_METRE, Network
from sim.heat.outlets import Film
from sim.heat.surfaces import Along
from sim.heat.tracing import Tracing
from sim.section.layout import place
from sim.section.mesh import PlanMesh, voronoi

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
JITTER = 0.35  # of a random site, as a part of the spacing, in both directions
STRIP = 3  # columns of a random mesh that are mirrored across the interface
STRETCH = 1.2  # of the graded mesh: the largest cell is cosh(1.2)^2 = 3.3 times as long as the smallest


def sites(kind: str, count: int, seed: int = 0) -> Array:
    """Sites of the unit square, `count` (even) along each side, shape (count^2, 2). kind: uniform, graded, random.

    graded: stretched smoothly, in x from the interface to both sides, in y from one side to the other.
    """
    step = (np.arange(count) + 0.5) / count
    if kind == "graded":
        x = 0.5 + 0.5 * np.sinh(STRETCH * (2 * step - 1)) / np.sinh(STRETCH)
        y = np.expm1(STRETCH * step) / np.expm1(STRETCH)
        return np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    grid = np.stack(np.meshgrid(step, step, indexing="ij"), axis=-1)
    if kind == "random":
        shift = np.random.default_rng(seed).uniform(-JITTER, JITTER, grid.shape) / count
        grid = grid + shift
        half = count // 2
        mirrored = grid[half - STRIP : half][::-1].copy()
        mirrored[..., 0] = 1.0 - mirrored[..., 0]
        grid[half : half + STRIP] = mirrored
    return grid.reshape(-1, 2)


def square(case: Case, points: Array) -> PlanMesh:
    """The Voronoi cells of sites in the unit square, with the mesh's own arrays; region: 0 left of x = 1/2, 1 right.

    case: lends the layout, of which nothing but the film's diameter is used.
    """
    reach = 4.0 / np.sqrt(len(points))
    ghosts = []
    for axis in (0, 1):
        for side in (0.0, 1.0):
            image = points[np.abs(points[:, axis] - side) < reach].copy()
            image[:, axis] = 2 * side - image[:, axis]
            ghosts.append(image)
    every = np.concatenate([points, *ghosts])
    own = np.arange(len(every)) < len(points)
    vertex, pair, ends = voronoi(every)
    length = np.hypot(*(vertex[ends[:, 0]] - vertex[ends[:, 1]]).T)
    gap = np.hypot(*(every[pair[:, 0]] - every[pair[:, 1]]).T)
    real = length > 1e-9 * gap
    count = own[pair].sum(axis=1)
    inner, outer = real & (count == 2), real & (count == 1)
    cell = np.where(own[pair[outer, 0]], pair[outer, 0], pair[outer, 1])
    area = np.bincount(cell, 0.25 * (length * gap)[outer], len(points)).astype(float)
    for side in (0, 1):
        area += np.bincount(pair[inner, side], 0.25 * (length * gap)[inner], len(points))
    return PlanMesh(
        place(case),
        (),
        0.0,
        points,
        area,
        (points[:, 0] > 0.5).astype(np.int64),
        pair[inner],
        length[inner],
        gap[inner],
        ends[inner],
        cell,
        length[outer],
        0.5 * gap[outer],
        0.5 * (every[pair[outer, 0]] + every[pair[outer, 1]]),
        ends[outer],
        vertex,
        np.zeros(2),
    )


def square_network(case: Case, mesh: PlanMesh) -> Network:
    """The network of bare cells: joints across all inner faces, and a surface node under a film on each outer one."""
    no_index = np.zeros(0, np.int64)
    cover = mesh.cells + np.arange(len(mesh.cover_cell))
    nodes = mesh.cells + len(cover)
    cell_node, half, (first, second) = np.arange(mesh.cells), 0.5 * mesh.face_distance, mesh.face_cells.T
    perfect, no_tracers = np.zeros(len(half)), np.zeros((0, nodes))
    joints: dict[str, Joints] = {
        "faces": Faces(first, second, mesh.face_length, half, half, perfect),
        "halves": Halves(
            mesh.cover_cell, cover, mesh.cover_length, mesh.cover_gap, mesh.cover_point, np.zeros(len(cover))
        ),
    }
    film = Film(cover, np.zeros(len(cover)), mesh.cover_length, mesh.layout.cover_radius)
    return Network(
        case=case,
        mesh=mesh,
        layers=ONE_METRE,
        nodes=nodes,
        cell_node=cell_node,
        face=np.arange(len(half)),
        joints=joined(joints, cell_node),
        outlets={"cover": film},
        cover_node=cover,
        cover_angle=film.angle,
        foil_face=no_index,
        foil_node=no_index,
        bore=None,
        bore_face=no_index,
        void_face=no_index,
        void_node=no_index,
        void_radiation={},
        tracing=Tracing(np.zeros(0), no_tracers, no_tracers, no_tracers, np.zeros((0, 1)), no_tracers),
        along=Along(no_index, np.zeros(0)),
        part=np.zeros((1, mesh.cells), np.int64),
        notes=(),
    )


def edges(kind: str, count: int, seed: int = 0) -> Array:
    """Layer edges of the unit length, `count` (even) layers, an edge at 1/2, shape (count + 1,)."""
    step = np.linspace(0.0, 1.0, count + 1)
    if kind == "graded":
        return cast(Array, 0.5 + 0.5 * np.sinh(STRETCH * (2 * step - 1)) / np.sinh(STRETCH))
    if kind == "random":
        shift = np.random.default_rng(1000 + seed).uniform(-JITTER, JITTER, count + 1) / count
        shift[[0, count // 2, count]] = 0.0
        return cast(Array, step + shift)
    return cast(Array, step)


def interface_broken(mesh: PlanMesh) -> float:
    """Length of faces between the two halves that do not lie on the interface x = 1/2, m."""
    across: Any = mesh.cell_region[mesh.face_cells]
    faces = across[:, 0] != across[:, 1]
    off = np.abs(mesh.vertex[mesh.face_ends[faces], 0] - 0.5).max(axis=1) > 1e-9
    return float(mesh.face_length[faces][off].sum())
