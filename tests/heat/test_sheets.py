"""Foil: where it lies when hulls overlap, and that its answer settles with the mesh."""

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line, mesh, numbers, only
from scipy.integrate import solve_ivp

from sim.heat.network import network
from sim.heat.sheets import Foot, foil_faces, foil_spans, strip_links
from sim.section.pieces import interfaces
from sim.solve.section import solve_section

FOIL = {"thickness": "0.1 mm", "contact_conductance": "bonded"}
PRESSED = {"thickness": "0.1 mm"}
SMALL = ROUND | {"name": "T2", "diameter": "6 mm", "contact_width": "1 mm"}
STACKED = line(FLAT, SMALL | {"over": "T1"}, foil=FOIL)
BESIDE = line(ROUND, SMALL | {"clock": 5.5}, foil=FOIL, insulation__fit="bridged")
APART = line(ROUND, SMALL | {"clock": 9.0}, foil=FOIL)


@pytest.mark.parametrize(("raw", "spans"), [(STACKED, 1), (BESIDE, 1), (APART, 2)])
def test_overlapping_hulls_share_one_foil(raw: dict, spans: int) -> None:
    geometry = layout(raw)
    spanned = foil_spans(geometry)
    assert len(spanned) == spans
    for start, width, feet in spanned:
        angle = np.mod(np.arctan2(*feet.T) - start, 2 * np.pi)
        assert np.sort(angle) == pytest.approx([0.0, width], abs=1e-9)
        assert np.hypot(*feet.T) == pytest.approx(geometry.outer_radius)


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
    values = numbers(closed)
    assert values["closure"] < 1e-8
    assert values["tracers.T0.sheath_max"] == pytest.approx(values["tracers.T3.sheath_max"], abs=0.1)


@pytest.mark.parametrize("raw", [STACKED, BESIDE, APART])
def test_foil_is_seen_once_from_the_axis_and_never_inside_a_tracer(raw: dict) -> None:
    geometry = layout(raw)
    pieces = [p for p in interfaces(geometry) if p.foil]
    for p in pieces:
        assert not (p.left == p.right and geometry.regions[p.left].kind == "tracer")
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
        net = network(only(raw), mesh(raw, 2.0))
        length = sum(p.curve.length for p in net.mesh.pieces if p.foil)
        wall = net.cell_node[net.mesh.cell_region == net.mesh.layout.number("wall")]
        links = net.links
        along = ~(np.isin(links.a, wall) | np.isin(links.b, wall))
        sheet = net.case.foil.conductivity * net.case.foil.thickness
        assert (sheet / links.strength[along]).sum() == pytest.approx(length, rel=0.05)


@pytest.mark.parametrize("contact", [20.0, 400.0, 1e4])
@pytest.mark.parametrize("beneath", [0.01, 0.5])
def test_end_of_a_foil_against_its_differential_equation(beneath: float, contact: float) -> None:
    """S T'' = T / (x^2 / (2 R k) + 1/h) from a long strip on the pipe, S T' = sqrt(S h) T at the foot: what flows in at
    the last face on the pipe, from the faces' own resistances, over a pipe of one temperature."""
    plan, sheet, foot = mesh(APART, 2.0), 0.016, Foot(beneath, contact)
    faces, resistance, runs = foil_faces(plan, foot)
    radius, run = plan.layout.outer_radius, runs[0].faces
    last = int(np.argmin(resistance[run] > 0.0))  # the first along the tangent itself
    assert 4 < last < len(run) / 2
    point, length = plan.face_point[faces[run[:last]]], plan.face_length[faces[run[:last]]]
    start = foil_spans(plan.layout)[0][2][0]
    x = np.hypot(*(point - start).T)
    down = length / resistance[run[:last]]
    down[0] += strip_links(plan, runs[0], np.arange(len(faces)), faces, sheet, foot).strength[0]
    along = sheet / np.hypot(*np.diff(point, axis=0).T)
    matrix = (
        np.diag(down)
        + np.diag(np.append(along, 0) + np.append(0, along))
        - np.diag(along, 1)
        - np.diag(along, -1)
    )
    computed = 1.0 / np.linalg.solve(matrix, np.eye(last)[-1])[-1]
    ode = solve_ivp(
        lambda x, y: [y[1], y[0] / sheet / (x**2 / (2 * radius * beneath) + 1 / contact)],
        (0.0, x[-1] + length[-1] / 2),
        [1.0, np.sqrt(contact / sheet)],
        rtol=1e-8,
    )
    assert computed == pytest.approx(sheet * ode.y[1, -1] / ode.y[0, -1], rel=0.1)


def test_a_bonded_foil_ends_on_the_pipe() -> None:
    plan = mesh(APART, 2.0)
    faces, resistance, runs = foil_faces(plan, Foot(0.04, np.inf))
    for run, (_, _, feet) in zip(runs, foil_spans(plan.layout), strict=True):
        for end, foot in zip(run.faces[[0, -1]], feet, strict=True):
            assert np.hypot(*(plan.face_point[faces[end]] - foot)) < plan.face_length[faces[end]]
            assert 0.0 < resistance[end] < 1e-4
    strip = strip_links(plan, runs[0], np.arange(len(faces)), faces, 0.016, Foot(0.04, np.inf))
    assert len(strip.a) == 2
    assert (strip.strength > 0.016 / plan.face_length[faces[runs[0].faces[[0, -1]]]]).all()


def test_the_band_of_a_foil_on_plastic_holds_a_finer_mesh() -> None:
    """Where a foil's ends pass much heat into a poor conductor."""
    raw = line(
        ROUND,
        foil=FOIL | {"contact_conductance": "bonded"},
        pipe={"outer_diameter": "110 mm", "wall": "6 mm", "material": "PP"},
    )
    computed, finer = solve_section(only(raw)).quantities, numbers(raw, 6.0)
    for path in ("tracers.T1.sheath_max", "wall.max"):
        assert abs(computed[path].value - finer[path]) < computed[path].band, path


def test_a_foil_pressed_on_lies_between_a_bonded_one_and_none() -> None:
    """The better the contact, the cooler the sheath."""
    contacts = ["20 W/m2/K", "100 W/m2/K", "400 W/m2/K", "3000 W/m2/K", "bonded"]
    raws = [line(FLAT, insulation__fit="bridged")]
    raws += [
        line(FLAT, insulation__fit="bridged", foil=PRESSED | {"contact_conductance": c}) for c in contacts
    ]
    values = [numbers(raw, 1.5) for raw in raws]
    sheath = [n["tracers.T1.sheath_max"] for n in values]
    assert all(np.diff(sheath) < -1e-3)
    assert sheath[3] - sheath[5] > 0.2
    assert all(n["closure"] < 1e-8 for n in values)


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
