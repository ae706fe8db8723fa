"""View factors of enclosures against closed forms; reciprocity and summation; what does not see each other."""

import math

import numpy as np
import pytest
from plain_lines import FLAT, ROUND, layout, line

from sim.section.enclosure import Wall, cut, exchange_areas, groups, patches, reverse, walls, wanted_length
from sim.section.pieces import interfaces
from sim.section.shapes import Arc, Array, PlaneCurve, Segment


def body(x: float, y: float, radius: float) -> Arc:
    """A cylinder in an enclosure: the enclosure lies to its left."""
    return Arc(x, y, radius, math.pi / 2, -2 * math.pi)


def around(radius: float) -> Arc:
    """A cylinder around an enclosure."""
    return Arc(0.0, 0.0, radius, math.pi / 2, 2 * math.pi)


def box(wide: float, high: float) -> list[PlaneCurve]:
    """The sides of a box about the origin from inside: bottom, right, top, left."""
    corner = [(-wide, -high), (wide, -high), (wide, high), (-wide, high)]
    return [Segment(*corner[i], *corner[(i + 1) % 4]) for i in range(4)]


def seen(bounds: list[PlaneCurve], parts: int) -> Array:
    """View factors between whole curves (n, n), each of so many patches."""
    patched = patches(bounds, [np.linspace(0.0, 1.0, parts + 1)] * len(bounds))
    area = exchange_areas(bounds, patched)
    assert area == pytest.approx(area.T, abs=1e-15)
    assert area.sum(axis=1) == pytest.approx(patched.length, rel=1e-12)
    to = np.zeros((len(bounds), len(patched)))
    to[patched.wall, np.arange(len(patched))] = 1.0
    return (to @ area @ to.T) / (to @ patched.length)[:, None]


def test_a_cylinder_around_another() -> None:
    view = seen([body(0.0, 0.0, 1.0), around(2.5)], 24)
    assert view == pytest.approx(np.array([[0.0, 1.0], [0.4, 0.6]]), abs=1e-6)


def test_a_cylinder_off_centre_sees_all_the_same() -> None:
    view = seen([body(0.3, -0.8, 1.0), around(2.5)], 24)
    assert view == pytest.approx(np.array([[0.0, 1.0], [0.4, 0.6]]), abs=2e-3)


@pytest.mark.parametrize("apart", [0.1, 0.7, 3.0])
def test_two_cylinders_side_by_side(apart: float) -> None:
    """F = (sqrt(X^2 - 1) + asin(1 / X) - X) / pi, X = 1 + apart / (2 r): Howell's catalogue of configuration factors,
    section C (from memory); by crossed strings, Hottel and Sarofim 1967."""
    x = 1.0 + apart / 2.0
    exact = (math.sqrt(x * x - 1.0) + math.asin(1.0 / x) - x) / math.pi
    half = 1.0 + apart / 2.0
    view = seen([body(-half, 0.0, 1.0), body(half, 0.0, 1.0), around(6.0)], 48)
    assert view[0, 1] == pytest.approx(exact, abs=5e-4)


def test_a_cylinder_over_a_plate() -> None:
    """From a plate to a cylinder along it: r / (b - a) (atan(b / h) - atan(a / h)) (Howell, from memory)."""
    view = seen([body(0.0, 0.0, 1.0), *box(3.0, 2.0)], 32)
    assert view[1, 0] == pytest.approx(2 * math.atan(3.0 / 2.0) / 6.0, abs=5e-4)
    assert view[2, 0] == pytest.approx(2 * math.atan(2.0 / 3.0) / 4.0, abs=5e-4)


def test_two_plates_with_a_cylinder_between_them() -> None:
    """Crossed strings on either side of the cylinder: A F = 2 t - 2 h + 2 r (phi - alpha), t the tangent's length from
    a plate's end, phi the angle of that end from the middle, alpha = acos(r / distance)."""
    wide, high, r = 3.0, 2.0, 1.0
    far = math.hypot(wide, high)
    t, phi, alpha = math.sqrt(far**2 - r**2), math.atan2(high, wide), math.acos(r / far)
    exact = 2 * (t - high + r * (phi - alpha)) / (2 * wide)
    assert seen([body(0.0, 0.0, r), *box(wide, high)], 32)[1, 3] == pytest.approx(exact, abs=5e-4)
    open_way = (far - high) / wide
    assert seen(box(wide, high), 16)[0, 2] == pytest.approx(open_way, abs=1e-4)


def test_enclosures_that_do_not_see_each_other_exchange_nothing() -> None:
    apart = [Segment(c.x0 + 9.0, c.y0, c.x1 + 9.0, c.y1) for c in box(1.0, 1.0) if isinstance(c, Segment)]
    bounds = [*box(1.0, 2.0), *apart]
    assert len(set(groups(bounds))) == 2
    assert (seen(bounds, 8)[:4, 4:] == 0.0).all()


def test_an_open_space_is_refused() -> None:
    bounds = box(1.0, 1.0)[:3]
    with pytest.raises(ValueError, match="do not enclose"):
        exchange_areas(bounds, patches(bounds, [np.linspace(0.0, 1.0, 5)] * 3))


def test_a_curve_run_the_other_way_is_the_same_curve() -> None:
    for curve in (Segment(0.0, 1.0, 2.0, 3.0), Arc(1.0, 2.0, 3.0, 0.3, -1.2)):
        t = np.array([0.0, 0.2, 1.0])
        assert reverse(curve).point(1.0 - t) == pytest.approx(curve.point(t))
        assert reverse(curve).normal(1.0 - t) == pytest.approx(-curve.normal(t))


VOIDS = {
    "hanging": line(ROUND, FLAT | {"name": "T2", "clock": 9.0}, insulation__fit="oversize", insulation__bore="140 mm"),
    "hanging on a tracer": line(ROUND | {"clock": 12.0}, insulation__fit="oversize", insulation__bore="140 mm"),
    "bridged": line(ROUND, FLAT | {"name": "T2", "clock": 9.0}, insulation__fit="bridged"),
    "lifted": line(ROUND | {"standoff": "1 mm"}, FLAT | {"name": "T2", "clock": 9.0, "standoff": "1 mm"}),
    "stacked": line(FLAT, ROUND | {"name": "T2", "over": "T1", "diameter": "6 mm"}, insulation__fit="bridged"),
    "foil": line(ROUND, insulation__fit="bridged", foil={"thickness": "0.1 mm"}),
}  # fmt: skip


@pytest.mark.parametrize("raw", VOIDS.values(), ids=VOIDS)
def test_voids_of_sections_close(raw: dict) -> None:
    """Every way of bounding a void: rows sum to the patches' lengths, nothing leaks, the curves go round the void."""
    geometry = layout(raw)
    void = np.array([region.kind == "void" for region in geometry.regions])
    bounds: list[Wall] = walls(interfaces(geometry), void)
    curves = [wall.curve for wall in bounds]
    tracer = [
        geometry.regions[w.region].index if geometry.regions[w.region].kind == "tracer" else -1
        for w in bounds
    ]
    cuts = [cut(c, w) for c, w in zip(curves, wanted_length(curves, tracer, 1.5), strict=True)]
    part = patches(curves, cuts)
    area = exchange_areas(curves, part)
    assert area == pytest.approx(area.T, abs=1e-15)
    assert area.sum(axis=1) == pytest.approx(part.length, rel=1e-9)
    middle = [c.point(np.array([0.4])) + 1e-7 * c.normal(np.array([0.4])) for c in curves]
    assert all(void[geometry.region_of(*p.T)[0]] for p in middle)
