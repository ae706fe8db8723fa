"""What interrupts a line, in the one way in which it is meshed and solved: a support or a fitting."""

from dataclasses import dataclass

from sim.case import Case, Fitting, Support
from sim.heat.fitting_layers import Geometry, fitting_network, looped
from sim.heat.network import Network
from sim.heat.support_layers import support_network, with_allowance
from sim.section.body_measures import measures
from sim.section.extrude import Layers, z_layers
from sim.section.fitting_cells import fitting_cells
from sim.section.fitting_faces import fitting_faces
from sim.section.fitting_plan import FittingLayout, fitting_layers, place_fitting
from sim.section.layout import Layout
from sim.section.mesh import PlanMesh
from sim.section.support_plan import SupportLayout, place_support

Interruption = Support | Fitting
IN_SPACE = 1.3  # unknowns of a fitting as a part of those of its layers, at most (measured)


def laid_out(case: Case, what: Interruption) -> Layout:
    """The section with what its plan must know of it. Raises ValueError if parts cannot be placed."""
    return place_fitting(case, what) if isinstance(what, Fitting) else place_support(case, what)


def layers_around(layout: Layout, what: Interruption, length: float, reach: float, fineness: float) -> Layers:
    """Layers over 0..length, m."""
    if isinstance(layout, FittingLayout):
        return fitting_layers(layout, length, reach, fineness)
    assert isinstance(layout, SupportLayout)
    assert isinstance(what, Support)
    return z_layers(layout, length, reach, fineness, (what.allowance_over / 2,))


def unknowns(plan: Network, layers: Layers, what: Interruption) -> int:
    """Nodes of its network, estimated before it is built."""
    return int(layers.count * plan.nodes * (IN_SPACE if isinstance(what, Fitting) else 1.0))


@dataclass(frozen=True)
class Around:
    """A mesh in layers around an interruption; geometry: of a fitting's cells in space."""

    what: Interruption
    layers: Layers
    geometry: Geometry | None = None

    def network(self, plan: Network) -> Network:
        """The network of a section's in these layers, without extra tracer."""
        if self.geometry is not None:
            assert isinstance(self.what, Fitting)
            return fitting_network(plan, self.geometry, self.what)
        assert isinstance(self.what, Support)
        return support_network(plan, self.layers, self.what)


def around(mesh: PlanMesh, layers: Layers, what: Interruption, lumped: bool) -> Around:
    """Mesh what stands in layers of a plan. lumped: contents are no cells."""
    if not isinstance(what, Fitting):
        return Around(what, layers)
    cells, sites = fitting_cells(mesh, layers, lumped)
    assert isinstance(mesh.layout, FittingLayout)
    faces = fitting_faces(mesh, cells, sites, lumped)
    return Around(what, layers, Geometry(mesh, layers, cells, faces, measures(mesh.layout)))


def with_extra(network: Network, allowance: float) -> Network:
    """The same network with another length of extra tracer, m."""
    return (
        looped(network, allowance)
        if isinstance(network.support, Fitting)
        else with_allowance(network, allowance)
    )
