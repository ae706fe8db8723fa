"""Interfaces: which regions they part, and the areas they enclose against closed forms."""

import math

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line

from sim.heat.sheets import foil_spans
from sim.section.layout import OUTSIDE, Layout
from sim.section.pieces import Piece, exact_areas, interfaces

RO, RI, RC = 57.15e-3, 51.15e-3, 107.15e-3  # m, pipe and cover of the base line


def pieces_of(raw: dict) -> tuple[Layout, tuple[Piece, ...]]:
    geometry = layout(raw)
    return geometry, interfaces(geometry)


def area(raw: dict, kind: str, index: int = 0) -> float:
    geometry, pieces = pieces_of(raw)
    return float(exact_areas(geometry, pieces)[geometry.number(kind, index)])


def meeting(raw: dict, *kinds: str) -> list[Piece]:
    """Pieces between two kinds of region."""
    geometry, pieces = pieces_of(raw)
    name = {n: r.kind for n, r in enumerate(geometry.regions)} | {OUTSIDE: "outside"}
    return [p for p in pieces if sorted((name[p.left], name[p.right])) == sorted(kinds)]


CASES = {
    "plain": line(),
    "round": line(ROUND),
    "flat over twelve": line(FLAT | {"clock": 12.0}),
    "bridged": line(ROUND, FLAT | {"name": "T2", "clock": 9.0}, insulation__fit="bridged"),
    "oversize": line(ROUND, insulation__fit="oversize", insulation__bore="140 mm"),
    "stacked": line(FLAT, ROUND | {"name": "T2", "over": "T1", "diameter": "6 mm"}),
    "lifted": line(ROUND | {"standoff": "1 mm"}, FLAT | {"name": "T2", "clock": 9.0, "standoff": "1 mm"}),
    "wet and part full": line(
        FLAT, contents__fill=0.3, layer__wet={"from_clock": 4.0, "to_clock": 8.0, "factor": 2.0}
    ),
    "foil": line(ROUND, foil={"thickness": "0.1 mm"}),
}


@pytest.mark.parametrize("raw", CASES.values(), ids=CASES)
def test_a_piece_has_its_regions_on_its_sides_all_along(raw: dict) -> None:
    geometry, pieces = pieces_of(raw)
    for piece in pieces:
        t = np.linspace(0.02, 0.98, 9)
        point, step = piece.curve.point(t), 1e-8 * piece.curve.normal(t)
        assert set(geometry.region_of(*(point + step).T)) == {piece.left}
        assert set(geometry.region_of(*(point - step).T)) == {piece.right}


@pytest.mark.parametrize("raw", CASES.values(), ids=CASES)
def test_areas_fill_the_cover_circle(raw: dict) -> None:
    geometry, pieces = pieces_of(raw)
    areas = exact_areas(geometry, pieces)
    assert areas.sum() == pytest.approx(math.pi * geometry.cover_radius**2, rel=1e-9)
    assert areas.min() >= -1e-12
    # a hanging shell touches the pipe: over a few tenths of a millimetre the void is thinner than the probe
    slack = 1e-6 if geometry.oversize else 1e-9
    # cuts nearer than 1e-9 m to each other are one (`split`), which takes R/2 times that from what lies within
    joined = 2e-9 * RO
    assert areas[geometry.number("wall")] == pytest.approx(math.pi * (RO**2 - RI**2), rel=slack, abs=joined)


@pytest.mark.parametrize("raw", CASES.values(), ids=CASES)
def test_areas_agree_with_points_thrown_at_random(raw: dict) -> None:
    geometry, pieces = pieces_of(raw)
    rng = np.random.default_rng(1)
    points = rng.uniform(-geometry.cover_radius, geometry.cover_radius, (400_000, 2))
    points[:, 1] -= geometry.drop
    region = geometry.region_of(*points.T)
    square = 4 * geometry.cover_radius**2
    share = exact_areas(geometry, pieces) / square
    hit = np.bincount(region[region >= 0], minlength=len(share)) / len(points)
    spread = np.sqrt(share * (1 - share) / len(points))
    assert np.abs(hit - share).max() < 5 * spread.max()
    assert (np.abs(hit - share) < 5 * spread + 1e-12).all()


@pytest.mark.parametrize("width", [6, 12, 22, 24, 26, 30])
@pytest.mark.parametrize("foil", [False, True])
def test_void_beside_a_flat_tracer_that_reaches_far_around_a_small_tube(width: int, foil: bool) -> None:
    """As above while the tangents miss each other; then the triangle under the line between the two corners."""
    ro, top = 6e-3, 11e-3
    half, turn = width * 1e-3 / (2 * ro), math.acos(ro / top)
    rest = min(turn, math.pi - half)
    void = top * top * math.sin(rest) * math.cos(rest) if rest < turn else ro * top * math.sin(turn)
    raw = line(FLAT | {"width": f"{width} mm"}, insulation__fit="bridged")
    raw["pipe"] |= {"outer_diameter": "12 mm", "wall": "1 mm"}
    raw |= {"foil": {"thickness": "0.1 mm"}} if foil else {}
    assert area(raw, "void") == pytest.approx(void - ro**2 * rest, rel=1e-6)
    if foil:
        (span,) = foil_spans(layout(raw))
        assert span[1] == pytest.approx(min(2 * (half + turn), 2 * math.pi))
        assert len(span[2]) == (2 if half + turn < math.pi else 0)


def test_wet_sector_takes_its_share_of_the_layer() -> None:
    raw = line(layer__wet={"from_clock": 10.0, "to_clock": 1.0, "factor": 2.0})
    assert area(raw, "wet") == pytest.approx(0.25 * math.pi * (RC**2 - RO**2), rel=1e-9)
    hanging = line(
        insulation__fit="oversize",
        insulation__bore="140 mm",
        layer__wet={"from_clock": 4.0, "to_clock": 8.0, "factor": 2.0},
    )
    assert area(hanging, "wet") == pytest.approx(math.pi / 3 * (0.12**2 - 0.07**2), rel=1e-9)


def test_contact_is_as_long_as_the_case_says() -> None:
    chord = meeting(line(ROUND | {"contact_width": "3 mm"}), "tracer", "wall")
    assert sum(p.curve.length for p in chord) == pytest.approx(2 * RO * math.asin(1.5e-3 / RO), rel=1e-9)
    base = meeting(line(FLAT), "tracer", "wall")
    assert sum(p.curve.length for p in base) == pytest.approx(12e-3, rel=1e-9)
    assert meeting(line(FLAT | {"standoff": "1 mm"}), "tracer", "wall") == []


def test_foil_covers_the_tracer_from_foot_to_foot() -> None:
    """Two tangents and the arc of the tracer's face between them; none on the pipe or beneath the tracer."""
    geometry, pieces = pieces_of(line(ROUND, foil={"thickness": "0.1 mm"}))
    body = geometry.bodies[0]
    reach = math.hypot(body.cx, body.cy)
    turn = math.acos((RO - 5e-3) / reach)
    length = sum(p.curve.length for p in pieces if p.foil)
    assert length == pytest.approx(2 * math.sqrt(reach**2 - (RO - 5e-3) ** 2) + 2 * 5e-3 * turn, rel=1e-6)
    wall = geometry.number("wall")
    assert not any(p.foil and wall in (p.left, p.right) for p in pieces)


def test_nothing_parts_equal_regions_but_foil() -> None:
    for raw in CASES.values():
        assert all(p.left != p.right or p.foil for p in pieces_of(raw)[1])
