"""What joins the nodes of a network, one class for each kind of joint, and how a section's are repeated along the pipe.

A kind gives the ends of its joints and their conductance at the cells' conductivities and the nodes' temperatures.
Its arrays say what they hold (`Nodes`, `Cells`, `PerMetre`, `Same`), so that `repeated` makes the joints of every layer
from those of a section, which is one layer of one metre. What a part of physics adds is one such group.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Annotated, Any, Protocol, TypeVar, get_type_hints

import numpy as np
from numpy.typing import NDArray

from sim.basics import SIGMA
from sim.section.mesh import IntArray
from sim.section.shapes import Array

Nodes = Annotated[IntArray, "node"]  # numbers of nodes
Cells = Annotated[IntArray, "cell"]  # numbers of cells
PerMetre = Annotated[Array, "per metre"]  # goes as the layer's thickness
Same = Annotated[Array, "same"]  # alike in every layer


class Joints(Protocol):
    """A group of joints of one kind."""

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        """The nodes at either end, (k,) and (k,); cell_node (cells,): the node of each cell."""
        ...

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        """W/K, shape (k,), at the cells' conductivities, W/m/K, and the nodes' temperatures, K."""
        ...


@dataclass(frozen=True)
class Faces:
    """Joints of two cells across their face: the series of two half cells and the contact between them.

    area (k,) m2; half_a, half_b: from each site to the face, m; resistance: m2 K/W.
    """

    cell_a: Cells
    cell_b: Cells
    area: PerMetre
    half_a: Same
    half_b: Same
    resistance: Same

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return cell_node[self.cell_a], cell_node[self.cell_b]

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        series = self.half_a / conductivity[self.cell_a] + self.half_b / conductivity[self.cell_b]
        return self.area / (series + self.resistance)


@dataclass(frozen=True)
class Halves:
    """Joints of a cell and a node on one of its faces: area (k,) m2, distance to the face, m; point (k, 2), m.

    resistance (k,): of a contact between the two, m2 K/W.
    """

    cell: Cells
    node: Nodes
    area: PerMetre
    distance: Same
    point: Same
    resistance: Same

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return cell_node[self.cell], self.node

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        return self.area / (self.distance / conductivity[self.cell] + self.resistance)


@dataclass(frozen=True)
class Links:
    """Joints of fixed conductance: strength (k,) W/K."""

    a: Nodes
    b: Nodes
    strength: PerMetre

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return self.a, self.b

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        return self.strength


@dataclass(frozen=True)
class Radiation:
    """Exchange of radiation between surface nodes: exchange (k,) m2, heat = exchange sigma (T_a^4 - T_b^4)."""

    a: Nodes
    b: Nodes
    exchange: PerMetre

    def ends(self, cell_node: IntArray) -> tuple[IntArray, IntArray]:
        return self.a, self.b

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        ta, tb = temperature[self.a], temperature[self.b]
        return self.exchange * SIGMA * (ta**2 + tb**2) * (ta + tb)


@dataclass(frozen=True)
class Joined:
    """All joints of a network: groups by name, and the ends of all, one group after the other, at `parts`."""

    groups: Mapping[str, Any]
    a: IntArray
    b: IntArray
    parts: Mapping[str, slice]

    @cached_property
    def cache(self) -> dict[Any, Any]:
        """What serves again for the next field of a network of these joints."""
        return {}

    def conductance(self, conductivity: Array, temperature: Array) -> Array:
        """Of all joints, W/K, shape (k,)."""
        return np.concatenate([g.conductance(conductivity, temperature) for g in self.groups.values()])


def joined(groups: Mapping[str, Joints], cell_node: IntArray) -> Joined:
    """Put groups of joints one after the other."""
    ends = [group.ends(cell_node) for group in groups.values()]
    stop = np.cumsum([len(a) for a, _ in ends]).tolist()
    parts = {name: slice(start, end) for name, start, end in zip(groups, [0, *stop[:-1]], stop, strict=True)}
    a, b = (np.concatenate(side) for side in zip(*ends, strict=True))
    return Joined(dict(groups), a, b, parts)


Group = TypeVar("Group", bound=Any)


@cache
def _holdings(kind: Any) -> dict[str, str]:
    """What each array of a kind of joint holds."""
    hints = get_type_hints(kind, include_extras=True)
    return {name: hint.__metadata__[0] for name, hint in hints.items() if hasattr(hint, "__metadata__")}


def arrays_of(group: Any) -> dict[str, str]:
    """What each array of a group of joints holds: node, cell, per metre, same."""
    kind: Any = type(group)
    return _holdings(kind)


def repeated(group: Group, thickness: Array, nodes: int, cells: int) -> Group:
    """A section's group in every layer: thickness (layers,) m; nodes, cells: of one layer."""
    layer = np.arange(len(thickness))
    shift = {"node": nodes * layer, "cell": cells * layer}
    made: dict[tuple[int, str], Array] = {}  # one array that has two names stays one
    changed = {}
    for name, what in arrays_of(group).items():
        value = getattr(group, name)
        if (id(value), what) not in made:
            if what == "per metre":
                new = (value * thickness[:, None]).ravel()
            elif what == "same":
                new = np.tile(value, (len(thickness), *(1,) * (value.ndim - 1)))
            else:
                new = (value + shift[what][:, None]).ravel()
            made[id(value), what] = new
        changed[name] = made[id(value), what]
    return replace(group, **changed)


def chosen(group: Group, which: NDArray[np.bool_]) -> Group:
    """The joints of a group of which `which` (k,) is true."""
    return replace(group, **{name: getattr(group, name)[which] for name in arrays_of(group)})


def together(parts: list[Group]) -> Group:
    """Groups of one kind (at least one) as one group."""
    names = arrays_of(parts[0])
    return replace(parts[0], **{n: np.concatenate([getattr(p, n) for p in parts]) for n in names})


def no_radiation() -> Radiation:
    none = np.zeros(0, np.int64)
    return Radiation(none, none, np.zeros(0))


def no_links() -> Links:
    none = np.zeros(0, np.int64)
    return Links(none, none, np.zeros(0))
