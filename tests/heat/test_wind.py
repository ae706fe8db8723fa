"""The distribution of the wind's coefficient: its mean, its symmetry and the features measured."""

import numpy as np
import pytest

from sim.heat.wind import FRONT, PROFILE_REYNOLDS, REAR, wind_profile

REYNOLDS = [10.0, 100.0, 3e3, 4e4, 1e5, 1e6]


@pytest.mark.parametrize("reynolds", REYNOLDS)
def test_mean_is_one_and_even(reynolds):
    angle = np.linspace(-np.pi, np.pi, 2880, endpoint=False) + 1e-3
    share = wind_profile(angle, reynolds)
    assert share.mean() == pytest.approx(1.0, abs=2e-5)
    assert share.min() > 0.0
    np.testing.assert_allclose(share, wind_profile(-angle, reynolds), rtol=1e-12)
    np.testing.assert_allclose(share, wind_profile(angle + 4.0 * np.pi, reynolds), rtol=1e-9)


@pytest.mark.parametrize("reynolds", REYNOLDS)
def test_no_kink(reynolds):
    """The slope has no jump: second differences shrink with the square of the step (a jump: linearly)."""
    bend = []
    for count in (1440, 2880):
        share = wind_profile(np.linspace(0.0, 2.0 * np.pi, count, endpoint=False), reynolds)
        bend.append(np.abs(np.roll(share, 1) - 2.0 * share + np.roll(share, -1)).max())
    assert bend[0] / bend[1] == pytest.approx(4.0, rel=0.1)


def test_split_is_the_one_published():
    """The mean of the front law is Richardson's 0.37 Re^(1/2) (1963, from memory), to 1 %."""
    fold = (np.arange(1000) + 0.5) / 1000.0
    assert 0.5 * (FRONT * (1.0 - fold**3)).mean() == pytest.approx(0.37, rel=0.01)
    assert pytest.approx(0.057) == REAR / 2.0


def test_held_outside_its_range():
    angle = np.linspace(0.0, 3.0, 7)
    low, high = PROFILE_REYNOLDS
    np.testing.assert_array_equal(wind_profile(angle, 1.0), wind_profile(angle, low))
    np.testing.assert_array_equal(wind_profile(angle, 9e6), wind_profile(angle, high))


@pytest.mark.parametrize("degrees", [30.0, 60.0, 75.0])
def test_front_is_the_boundary_layer_of_the_source(degrees):
    """Where the front rules (low Re): 1 - (theta/90)^3 of the stagnation value (Martinelli et al., from memory)."""
    share = wind_profile(np.radians([0.0, degrees]), 100.0)
    assert share[1] / share[0] == pytest.approx(1.0 - (degrees / 90.0) ** 3, rel=0.01)
