"""What the pictures are drawn from: plain arrays, so that the process that draws needs none of the model.

Lengths in m, temperatures in degC, angles clockwise from 12 o'clock in rad.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.basics import Array as Array


@dataclass(frozen=True)
class Mark:
    """A marked point. kind: contents, wall, sheath, sensor; label: its line in the legend; short: beside the point."""

    kind: str
    label: str
    short: str
    x: float
    y: float


@dataclass(frozen=True)
class Outline:
    """Sizes of a section: bore and pipe radius, farthest point of a tracer, outside radius, how low the shell hangs."""

    inner_radius: float
    outer_radius: float
    tracer_reach: float
    cover_radius: float
    drop: float


@dataclass(frozen=True)
class Scene:
    """One condition's field.

    point (n, 2), value (n,), inner (n,) whether the point is of wall or contents; curves: interfaces as polylines;
    wall, cover: (angle, temperature) around the clock; tracers: (name, angle, half the angle it covers);
    sensors: (name, angle, reading); limits: (words, "wall" or "cover", temperature); wet: (from, to, inner and outer
    radius about the layer's centre).
    """

    name: str
    weather: str
    outline: Outline
    point: Array
    value: Array
    inner: NDArray[np.bool_]
    curves: tuple[Array, ...]
    marks: tuple[Mark, ...]
    wall: tuple[Array, Array]
    cover: tuple[Array, Array]
    wall_band: float
    cover_band: float
    tracers: tuple[tuple[str, float, float], ...]
    sensors: tuple[tuple[str, float, float], ...]
    limits: tuple[tuple[str, str, float], ...]
    wet: tuple[tuple[float, float, float, float], ...]
    wind_from: float | None
    bore_known: bool


@dataclass(frozen=True)
class FlowScene:
    """Contents that were followed: point (n, 2) m from the bore's axis; mean and swing of the temperature (n,) degC, K;
    psi (n,): mean stream function; frames: temperature, stream function at some moments; tracers: (angle, half)."""

    name: str
    radius: float
    point: Array
    mean: Array
    psi: Array
    swing: Array
    frames: tuple[tuple[Array, Array], ...]
    tracers: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class MeshScene:
    """One mesh: faces as pairs of points (m, 2, 2), interfaces, fills in the order to paint, where to look closer.

    fills: (kind of region, number of layer, outline (n, 2)); names: (kind, number of layer, name) for the key.
    """

    outline: Outline
    cells: int
    faces: Array
    curves: tuple[Array, ...]
    fills: tuple[tuple[str, int, Array], ...]
    names: tuple[tuple[str, int, str], ...]
    closer: tuple[float, float, float]


@dataclass(frozen=True)
class CurveOverTime:
    """A line of the chart: its words, values (n,) and band (n,) in degC and K, and what it is (for its colour)."""

    words: str
    value: Array
    band: Array
    kind: str


@dataclass(frozen=True)
class Still:
    """The section at one moment (h): temperature (points,) degC, frozen share (points,), radius free of a ring (m)."""

    hour: float
    value: Array
    frozen: Array
    ring: float


@dataclass(frozen=True)
class EpisodeScene:
    """What the pictures of an episode show. hour (n,); frozen (n,) or None; heat_hour (m,), with output, loss (m,) W/m,
    holds each jump twice.

    limits: (words, degC); events: (hour, words); on: stretches (from, to) in which any tracer that is switched is on;
    point (points, 2) m of the fields, interfaces as polylines, and the fields at some moments.
    """

    name: str
    words: str
    hour: Array
    curves: tuple[CurveOverTime, ...]
    heat_hour: Array
    output: Array
    loss: Array
    frozen: Array | None
    limits: tuple[tuple[str, float], ...]
    events: tuple[tuple[float, str], ...]
    on: tuple[tuple[float, float], ...]
    outline: Outline
    point: Array
    lines: tuple[Array, ...]
    stills: tuple[Still, ...]


Job = tuple[Scene | MeshScene | FlowScene | EpisodeScene, str, str]
"""What to draw, as what ("section", "around", "mesh", "flow", "frames", "course" or "moments"), and its path."""
