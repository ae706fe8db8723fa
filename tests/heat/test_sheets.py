"""Foil: where it lies when hulls overlap, and that its answer settles with the mesh."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line, mesh, numbers, only
from scipy.integrate import solve_ivp

from sim.heat.network import network
from sim.heat.sheets import Foot, foil_spans, foot_conductance, foot_links
from sim.section.pieces import interfaces

FOIL = {"thickness": "0.1 mm", "contact_conductance": "bonded"}
PRESSED = {"thickness": "0.1 mm"}
SMALL = ROUND | {"name": "T2", "diameter": "6 mm", "contact_width": "1 mm"}
STACKED = line(FLAT, SMALL | {"over": "T1"}, foil=FOIL)
BESIDE = line(ROUND, SMALL | {"clock": 5.5}, foil=FOIL, insulation__fit="bridged")
APART = line(ROUND, SMALL | {"clock": 9.0}, foil=FOIL)


@pytest.mark.parametrize(("raw", "spans"), [(STACKED, 1), (BESIDE, 1), (APART, 2)])
def test_overlapping_hulls_share_one_foil(raw: dict, spans: int) -> None:
    found = layout(raw)
    spanned = foil_spans(found)
    assert len(spanned) == spans
    for start, width, feet in spanned:
        angle = np.mod(np.arctan2(*feet.T) - start, 2 * np.pi)
        assert np.sort(angle) == pytest.approx([0.0, width], abs=1e-9)
        assert np.hypot(*feet.T) == pytest.approx(found.outer_radius)


def test_hulls_may_overlap_across_twelve_and_close_around_the_pipe() -> None:
    across = layout(line(ROUND | {"clock": 11.8}, SMALL | {"clock": 0.4}, foil=FOIL))
    ((start, width, _),) = foil_spans(across)
    assert start > np.pi
    assert start + width > 2 * np.pi
    ring = [ROUND | {"name": f"T{i}", "clock": 2.0 * i} for i in range(6)]
    small = {"outer_diameter": "30 mm", "wall": "2 mm", "material": "copper"}
    closed = line(*ring, pipe=small, foil=FOIL)
    ((start, width, feet),) = foil_spans(layout(closed))
    assert width == pytest.approx(2 * np.pi)
    assert len(feet) == 0
    found = numbers(closed)
    assert found["closure"] < 1e-8
    assert found["tracers.T0.sheath_max"] == pytest.approx(found["tracers.T3.sheath_max"], abs=0.1)


@pytest.mark.parametrize("raw", [STACKED, BESIDE, APART])
def test_foil_is_seen_once_from_the_axis_and_never_inside_a_tracer(raw: dict) -> None:
    found = layout(raw)
    pieces = [p for p in interfaces(found) if p.foil]
    for p in pieces:
        assert not (p.left == p.right and found.regions[p.left].kind == "tracer")
    for direction in np.linspace(0.05, 2 * np.pi, 200):
        crossed = 0
        for p in pieces:
            angle = np.arctan2(*p.curve.point(np.array([0.0, 1.0])).T) - direction
            start, stop = np.mod(angle + np.pi, 2 * np.pi) - np.pi
            crossed += start * stop < 0 and abs(start - stop) < np.pi
        assert crossed <= 1


@pytest.mark.parametrize("raw", [STACKED, BESIDE])
def test_the_answer_settles_with_the_mesh(raw: dict) -> None:
    coarse, fine = numbers(raw, 1.5), numbers(raw, 3.0)
    span = fine["tracers.T2.sheath_max"] - 263.15
    for path in ("tracers.T1.sheath_max", "tracers.T2.sheath_max", "wall.max", "wall.min"):
        assert coarse[path] == pytest.approx(fine[path], abs=0.01 * span), path


def test_foil_of_no_conductance_over_a_stack_is_no_foil() -> None:
    nothing = numbers(
        line(
            FLAT, SMALL | {"over": "T1"}, foil=FOIL | {"thickness": "0.001 mm", "conductivity": "0.01 W/m/K"}
        )
    )
    bare = numbers(line(FLAT, SMALL | {"over": "T1"}))
    for path in ("tracers.T1.sheath_max", "tracers.T2.sheath_max", "wall.max", "wall.min"):
        assert nothing[path] == pytest.approx(bare[path], abs=0.3), path


def test_a_run_goes_along_the_foil_without_a_jump() -> None:
    """Neighbours in the chain are about a face apart: their links add up to the foil's own resistance."""
    for raw in (STACKED, BESIDE, APART):
        found = network(only(raw), mesh(raw, 2.0))
        length = sum(p.curve.length for p in found.mesh.pieces if p.foil)
        wall = found.cell_node[found.mesh.cell_region == found.mesh.layout.number("wall")]
        links = found.links
        along = ~(np.isin(links.a, wall) | np.isin(links.b, wall))
        sheet = found.case.foil.conductivity * found.case.foil.thickness
        assert (sheet / links.strength[along]).sum() == pytest.approx(length, rel=0.05)


@pytest.mark.parametrize("beneath", [0.01, 0.03, 0.5])
def test_end_of_a_foil_against_its_differential_equation(beneath: float) -> None:
    """S T'' = 2 R k / x^2 T from the foot (T = 0) outwards, integrated in ln x: the last node's conductance."""
    plan, sheet, apart = mesh(line(FLAT), 1.0), 0.016, 2e-3
    radius = plan.layout.outer_radius
    foot = np.array([[0.0, radius]])
    (link,) = foot_links(
        plan, np.array([7]), foot + np.array([[apart, 0.0]]), foot, sheet, Foot(beneath, np.inf)
    )
    strength = 2 * radius * beneath / sheet
    run = solve_ivp(
        lambda s, y: [y[1], y[1] + strength * y[0]],
        (np.log(1e-9 * apart), np.log(apart)),
        [0.0, 1.0],
        rtol=1e-10,
    )
    rise, slope = run.y[:, -1]
    assert link.strength[0] == pytest.approx(sheet * slope / rise / apart, rel=1e-6)
    assert link.a.tolist() == [7]


@pytest.mark.parametrize("contact", [20.0, 400.0, 1e4])
@pytest.mark.parametrize("beneath", [0.01, 0.5])
def test_end_of_a_foil_that_is_pressed_on(beneath: float, contact: float) -> None:
    """S T'' = T / (x^2 / (2 R k) + 1/h) from a long strip on the pipe, S T' = sqrt(S h) T at the foot."""
    radius, sheet, apart = 0.05, 0.016, 3e-3
    run = solve_ivp(
        lambda x, y: [y[1], y[0] / sheet / (x**2 / (2 * radius * beneath) + 1 / contact)],
        (0.0, apart),
        [1.0, np.sqrt(contact / sheet)],
        rtol=1e-10,
        atol=1e-12,
    )
    found = foot_conductance(apart, radius, sheet, Foot(beneath, contact))
    assert found == pytest.approx(sheet * run.y[1, -1] / run.y[0, -1], rel=1e-4)
    bonded = foot_conductance(apart, radius, sheet, Foot(beneath, np.inf))
    assert found < bonded
    assert foot_conductance(apart, radius, sheet, Foot(beneath, 1e9)) == pytest.approx(bonded, rel=1e-2)


def test_a_foil_pressed_on_lies_between_a_bonded_one_and_none() -> None:
    """The better the contact, the cooler the sheath."""
    contacts = ["20 W/m2/K", "100 W/m2/K", "400 W/m2/K", "3000 W/m2/K", "bonded"]
    raws = [line(FLAT, insulation__fit="bridged")]
    raws += [
        line(FLAT, insulation__fit="bridged", foil=PRESSED | {"contact_conductance": c}) for c in contacts
    ]
    found = [numbers(raw, 1.5) for raw in raws]
    sheath = [n["tracers.T1.sheath_max"] for n in found]
    assert all(np.diff(sheath) < -1e-3)
    assert sheath[3] - sheath[5] > 0.2
    assert all(n["closure"] < 1e-8 for n in found)


def test_a_foils_contact_settles_with_the_mesh_in_every_fit() -> None:
    for fit in ("snug", "bridged"):
        for tracer in (FLAT, ROUND | {"standoff": "1 mm"}):
            raw = line(tracer, foil=PRESSED, insulation__fit=fit)
            coarse, fine = numbers(raw, 1.5), numbers(raw, 3.0)
            span = fine["tracers.T1.sheath_max"] - 263.15
            for path in ("tracers.T1.sheath_max", "wall.max", "wall.min"):
                assert coarse[path] == pytest.approx(fine[path], abs=0.01 * span), (fit, path)


def test_a_compound_wets_the_foil_and_leaves_no_contact_on_it() -> None:
    compound = {"insulation__fit": "bridged", "insulation__void": {"conductivity": "1 W/m/K"}}
    pressed, bonded = (
        network(only(raw), mesh(raw, 1.5))
        for raw in (line(FLAT, foil=f, **compound) for f in (PRESSED, FOIL))
    )
    cells = pressed.mesh.face_cells[pressed.foil_face]
    over_tracer = (pressed.mesh.kind[cells] == "tracer").any(axis=1)
    assert pressed.nodes - bonded.nodes == over_tracer.sum()
