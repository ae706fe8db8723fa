"""Flow across the faces of a freezing liquid, and to a ring of ice: continuous, rising, with the right derivatives."""

import numpy as np
import pytest

from sim.case.curve import constant
from sim.case.materials import Fluid, Frozen
from sim.heat.front import Freezing, FrontFaces
from sim.heat.ice import CLOSING, Ring
from sim.heat.joints import Faces
from sim.heat.storage import fluid_store

ICE, WATER, WALL, START = 2.2, 0.57, 45.0, 273.15
HALF_A, HALF_B, AREA, GAP = 1.2e-3, 0.7e-3, 0.02, 1e-4


def _face(resistance: float) -> Faces:
    one = np.ones(1)
    return Faces(np.array([0]), np.array([1]), AREA * one, HALF_A * one, HALF_B * one, resistance * one)


def _heat(a: float, b: float, wet: tuple[bool, bool], k_wall: float = WALL) -> tuple[float, float, float]:
    """Heat from a to b, K over the freezing point each, and its derivatives by either."""
    temperature = START + np.array([a, b])
    own = [np.where(x < 0, ICE, WATER) if w else k_wall for x, w in zip((a, b), wet, strict=True)]
    front = FrontFaces("faces", np.array([0]), np.array([wet[0]]), np.array([wet[1]]))
    conductance, from_a, from_b = Freezing(START, ICE, WATER).across(
        _face(GAP), front, np.array(own, float), temperature
    )
    return float(conductance[0]) * (a - b), float(from_a[0]), -float(from_b[0])


@pytest.mark.parametrize("wet", [(True, True), (True, False), (False, True)])
@pytest.mark.parametrize("k_wall", [0.2, WALL])
def test_heat_is_continuous_and_rises_with_the_fall(wet: tuple[bool, bool], k_wall: float) -> None:
    """Along any line of temperatures through the freezing point; so the balance of a step has one solution."""
    walk = np.linspace(-8.0, 8.0, 121)
    for other in (-6.0, -0.5, 0.0, 0.5, 6.0):
        up = np.array([_heat(x, other, wet, k_wall)[0] for x in walk])
        down = np.array([_heat(other, x, wet, k_wall)[0] for x in walk])
        largest = AREA / (0.5 * (HALF_A + HALF_B) / WALL) * (walk[1] - walk[0])
        assert (np.diff(up) > 0).all()
        assert np.diff(up).max() < largest
        assert (np.diff(down) < 0).all()
        assert np.diff(down).min() > -largest


@pytest.mark.parametrize("wet", [(True, True), (True, False), (False, True)])
def test_derivatives_of_the_heat(wet: tuple[bool, bool]) -> None:
    """Against differences, on both sides of the freezing point."""
    step = 1e-5
    for a, b in ((3.0, -5.0), (-3.0, 0.2), (0.2, -6.0), (-6.0, 4.0), (2.0, 5.0), (-2.0, -5.0)):
        _, by_a, by_b = _heat(a, b, wet)
        over_a = (_heat(a + step, b, wet)[0] - _heat(a - step, b, wet)[0]) / (2 * step)
        over_b = (_heat(a, b + step, wet)[0] - _heat(a, b - step, wet)[0]) / (2 * step)
        assert by_a == pytest.approx(over_a, rel=1e-6)
        assert by_b == pytest.approx(over_b, rel=1e-6)


def test_front_between_a_frozen_cell_and_a_warm_wall() -> None:
    """Ice from -4 K to the front, liquid from the front to the face: heat through each is the same (k dT / dx)."""
    heat, *_ = _heat(-4.0, 3.0, (True, False))
    flux = -heat / AREA
    ice = ICE * 4.0 / flux  # thickness that lets the flux through
    water = HALF_A - ice
    face = flux * water / WATER
    assert 0 < ice < HALF_A
    assert face + flux * (GAP + HALF_B / WALL) == pytest.approx(3.0)


def _ring(count: int) -> Ring:
    """Lumps on a bore of two faces."""
    fluid = Fluid.model_construct(
        conductivity=constant(WATER),
        density=constant(1000.0),
        specific_heat=constant(4200.0),
        freezes_at=START,
        latent_heat=333.6e3,
        frozen=Frozen.model_construct(conductivity=ICE, specific_heat=2100.0),
        frozen_share=None,
        phase="liquid",
    )
    return Ring(
        node=np.arange(count),
        area=np.full(count, 5e-3),
        face_node=np.tile([count, count + 1], (count, 1)),
        weight=np.array([0.3, 0.7]),
        at=np.zeros((count, 2), np.int64),
        long=np.ones(count),
        start=START,
        latent=1000.0 * 333.6e3,
        solid=1000.0 * 2100.0,
        conductivity=ICE,
        liquid=fluid_store(fluid),
    )


def _to_wall(part: np.ndarray, wall: float) -> tuple[np.ndarray, np.ndarray]:
    """Heat from the contents to the wall at enthalpies, as parts of the latent heat, and its derivative by the part."""
    ring, count = _ring(len(part)), len(part)
    latent = ring.latent * ring.area[0]
    enthalpy = np.append(part * latent, [0.0, 0.0])
    temperature = np.full(count + 2, START + wall)
    temperature[:count] = ring.temperature(enthalpy, ring.share(enthalpy, temperature), temperature)
    conductance, by_heat = ring.conductance(np.tile([300.0, 700.0], (count, 1)), enthalpy, temperature)
    fall = temperature[:count, None] - temperature[count:]
    return (conductance * fall).sum(axis=1), (by_heat * fall).sum(axis=1) * latent


@pytest.mark.parametrize("wall", [-12.0, -1.0, 2.0])
def test_heat_to_a_ring_has_no_jump(wall: float) -> None:
    """From liquid through first ice, a closing ring and solid ice; the wall colder or warmer than the ice."""
    coarse, fine = (_to_wall(np.linspace(-1.1, 0.02, n), wall)[0] for n in (20001, 40001))
    assert np.abs(np.diff(fine)).max() < 0.75 * np.abs(np.diff(coarse)).max()
    grown, _ = _to_wall(np.linspace(-1.1, -0.005, 2001), wall)
    assert wall > 0 or (np.diff(grown) > 0).all()  # the thicker the ice, the less


def test_derivative_of_the_heat_to_a_ring() -> None:
    """By the enthalpy, where the ring grows or melts, against differences."""
    part, step = -np.array([0.004, 0.05, 0.6, 0.95]), 1e-7
    for wall in (-12.0, 2.0):
        change = (_to_wall(part + step, wall)[0] - _to_wall(part - step, wall)[0]) / (2 * step)
        assert _to_wall(part, wall)[1] == pytest.approx(change, rel=1e-3)


def test_a_lump_has_no_jump_of_temperature_as_its_ring_closes() -> None:
    """To the mean of solid ice, with the capacity that differences have; a warmer wall leaves it as it melts."""
    ring, count = _ring(20001), 20001
    latent = ring.latent * ring.area[0]
    part = np.linspace(-1.1, -0.95, count)
    for wall in (-12.0, -0.5, 2.0):
        temperature = np.full(count + 2, START + wall)
        enthalpy = np.append(part * latent, [0.0, 0.0])
        share = ring.share(enthalpy, temperature)
        lump = ring.temperature(enthalpy, share, temperature)
        assert (np.diff(lump) > -1e-9).all()
        assert np.diff(lump).max() < 0.02 * abs(wall)
        inside = (share > 1 - 0.9 * CLOSING) & (share < 1 - 0.1 * CLOSING)
        slope = np.gradient(lump, enthalpy[:count])[inside]
        capacity = ring.capacity(enthalpy, share, temperature)[inside]
        assert slope == pytest.approx(1 / capacity, rel=0.02) if wall < 0 else np.abs(slope).max() < 1e-12


@pytest.mark.parametrize("left", [0.8, 0.5, 0.2])
def test_derivative_of_the_heat_to_a_ring_that_closes(left: float) -> None:
    """By the enthalpy at the lump's temperature, and by that temperature, against differences of both together."""
    wall, step = -1.0, 1e-8
    ring = _ring(1)
    grown = 1 - left * CLOSING
    part = -grown + ring.solid * wall * (1 + grown / np.log(left * CLOSING)) / ring.latent
    parts = np.array([part])
    change = (_to_wall(parts + step, wall)[0] - _to_wall(parts - step, wall)[0]) / (2 * step)
    enthalpy = np.append(parts * ring.latent * ring.area[0], [0.0, 0.0])
    temperature = np.full(3, START + wall)
    share = ring.share(enthalpy, temperature)
    assert share == pytest.approx(grown, abs=1e-9)
    capacity = ring.capacity(enthalpy, share, temperature)
    temperature[:1] = ring.temperature(enthalpy, share, temperature)
    joint = ring.conductance(np.tile([300.0, 700.0], (1, 1)), enthalpy, temperature)[0].sum()
    by_temperature = joint / capacity * ring.latent * ring.area[0]
    assert _to_wall(parts, wall)[1] + by_temperature == pytest.approx(change, rel=1e-3)
