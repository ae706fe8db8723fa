"""Inside films against handbook values; radiation in the bore against closed forms."""

from types import SimpleNamespace

import numpy as np
import pytest
from ht.conv_internal import turbulent_Churchill_Zajic

from sim.heat import bore


def fluid(conductivity, density, specific_heat, viscosity):
    values = {
        "conductivity": conductivity,
        "density": density,
        "specific_heat": specific_heat,
        "viscosity": viscosity,
    }
    return SimpleNamespace(**{name: (lambda t, v=v: v) for name, v in values.items()})


WATER_20C = fluid(0.598, 998.2, 4184.0, 1.0016e-3)  # IAPWS, rounded


def contents(**changes):
    keys = {"state": "still", "fill": 1.0, "film_coefficient": None, "velocity": None, "temperature": 293.15}
    return SimpleNamespace(**(keys | {"fluid": WATER_20C} | changes))


def ring(count, radius=0.05, fill=None):
    """Ends of the faces of a regular polygon, or of its arc above a level and then the level itself."""
    angle = np.linspace(0.0, 2.0 * np.pi, count + 1)
    if fill is None:
        point = radius * np.column_stack((np.sin(angle), np.cos(angle)))
        return point[:-1], point[1:]
    half = np.arccos(2.0 * fill - 1.0)
    angle = np.linspace(-half, half, count + 1)
    arc = radius * np.column_stack((np.sin(angle), np.cos(angle)))
    level = arc[-1] + np.linspace(0.0, 1.0, count + 1)[:, None] * (arc[0] - arc[-1])
    return np.vstack((arc[:-1], level[:-1])), np.vstack((arc[1:], level[1:]))


class TestFilm:
    def test_handbook_turbulent(self):
        """Cengel example 8-5 (from memory): water, Re 10 760, Pr 4.32; Dittus-Boelter gives Nu 69.5;
        Gnielinski with Petukhov's friction, worked by hand, 70.4. Such correlations agree to 10 %."""
        nusselt, regime = bore.tube_nusselt(10_760.0, 4.32)
        assert nusselt == pytest.approx(70.4, rel=0.03)
        assert nusselt == pytest.approx(69.5, rel=0.10)
        assert "turbulent" in regime

    def test_water_at_one_metre_a_second(self):
        """Dittus-Boelter is good to 25 % (Incropera, section 8.5.1, from memory); Churchill and Zajic (2002),
        a relation of another kind, lies closer."""
        h, note = bore.flowing(WATER_20C, 293.15, 1.0, 0.1023)
        reynolds = 998.2 * 0.1023 / 1.0016e-3
        prandtl = 1.0016e-3 * 4184.0 / 0.598
        assert h * 0.1023 / 0.598 == pytest.approx(0.023 * reynolds**0.8 * prandtl**0.4, rel=0.25)
        friction = (1.8 * np.log10(reynolds) - 1.5) ** -2
        other = turbulent_Churchill_Zajic(reynolds, prandtl, friction)
        assert h * 0.1023 / 0.598 == pytest.approx(other, rel=0.05)
        assert "turbulent" in note

    def test_continuous_through_the_transition(self):
        for edge in (bore.LAMINAR_END, bore.TURBULENT_START):
            below, above = (bore.tube_nusselt(edge * (1.0 + s * 1e-9), 7.0)[0] for s in (-1, 1))
            assert below == pytest.approx(above, rel=1e-6)
        rising = [bore.tube_nusselt(r, 7.0)[0] for r in np.geomspace(1e3, 1e6, 60)]
        assert np.all(np.diff(rising) >= 0.0)

    def test_out_of_range_and_no_flow(self):
        oil = fluid(0.13, 880.0, 1900.0, 0.5)
        assert "outside" in bore.flowing(oil, 293.15, 40.0, 0.1)[1]
        with pytest.raises(ValueError, match="velocity"):
            bore.flowing(WATER_20C, 293.15, 0.0, 0.1)

    def test_choice_of_coefficient(self):
        assert bore.bore_coefficient(contents(film_coefficient=250.0), 0.1, "liquid") == (
            250.0,
            "given in the case",
        )
        h, source = bore.bore_coefficient(contents(state="mixed"), 0.1, "liquid")
        assert (h, "from memory" in source) == (bore.LIQUID_COEFFICIENT, True)
        h, source = bore.bore_coefficient(contents(state="empty"), 0.1, "gas")
        assert (h, "from memory" in source) == (bore.GAS_COEFFICIENT, True)
        assert bore.bore_coefficient(contents(state="empty", film_coefficient=7.0), 0.1, "gas")[0] == 7.0
        above = contents(state="mixed", fill=0.5, film_coefficient=250.0)
        assert bore.bore_coefficient(above, 0.1, "gas")[0] == bore.GAS_COEFFICIENT
        adiabatic = contents(state="mixed", fill=0.5, film_coefficient=0.0)
        assert [bore.bore_coefficient(adiabatic, 0.1, r)[0] for r in ("gas", "liquid")] == [0.0, 0.0]
        running = contents(state="flowing", velocity=1.0)
        assert (
            bore.bore_coefficient(running, 0.1, "liquid")[0] == bore.flowing(WATER_20C, 293.15, 1.0, 0.1)[0]
        )


class TestRadiation:
    @pytest.mark.parametrize("fill", [None, 0.2, 0.5, 0.9])
    def test_rows_and_reciprocity(self, fill):
        view, length = bore.view_factors(*ring(60, fill=fill))
        np.testing.assert_allclose(view.sum(axis=1), 1.0, atol=1e-14)
        np.testing.assert_allclose(length[:, None] * view, (length[:, None] * view).T, atol=1e-16)
        assert view.min() >= 0.0
        assert np.all(view.diagonal() == 0.0)

    def test_square(self):
        """Opposite sides of a square: sqrt(2) - 1; neighbours share the rest (any textbook)."""
        point = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
        view, _ = bore.view_factors(point, np.roll(point, -1, axis=0))
        assert view[0, 2] == pytest.approx(np.sqrt(2.0) - 1.0, rel=1e-12)
        assert view[0, 1] == pytest.approx(1.0 - np.sqrt(0.5), rel=1e-12)

    def test_order_and_direction_of_the_faces_do_not_matter(self):
        start, end = ring(24, fill=0.4)
        whole = bore.exchange_factors(start, end, 0.8)
        order = np.random.default_rng(3).permutation(len(start))
        turned = (order % 2 == 0)[:, None]
        mixed = bore.exchange_factors(
            np.where(turned, end[order], start[order]), np.where(turned, start[order], end[order]), 0.8
        )
        np.testing.assert_allclose(mixed, whole[np.ix_(order, order)], atol=1e-14)

    def test_circle_kernel(self):
        """Black circle: the view kernel |sin(phi/2)|/4 has the eigenvalues 1/(1 - 4 n^2) on cos(n phi)."""
        count = 400
        view, _ = bore.view_factors(*ring(count))
        phi = 2.0 * np.pi * np.arange(count) / count
        for n in (1, 2, 3):
            np.testing.assert_allclose(
                view @ np.cos(n * phi), np.cos(n * phi) / (1.0 - 4.0 * n * n), atol=2e-4
            )

    @pytest.mark.parametrize("emissivity", [1.0, 0.8, 0.3])
    def test_grey_circle_mode(self, emissivity):
        """Emissive power cos(n phi) on a grey circle: the radiosity relation mode by mode gives a net flux of
        eps (1 - lambda) / (1 - (1 - eps) lambda) of it, lambda = 1/(1 - 4 n^2)."""
        count, radius = 400, 0.05
        start, end = ring(count, radius)
        exchange = bore.exchange_factors(start, end, emissivity)
        area = 2.0 * radius * np.sin(np.pi / count)
        phi = 2.0 * np.pi * np.arange(count) / count
        for n in (1, 2):
            power, kernel = np.cos(n * phi), 1.0 / (1.0 - 4.0 * n * n)
            flux = (exchange.sum(axis=1) * power - exchange @ power) / area
            expected = emissivity * (1.0 - kernel) / (1.0 - (1.0 - emissivity) * kernel)
            np.testing.assert_allclose(flux, expected * power, atol=5e-4)

    def test_emissivity_limits(self):
        start, end = ring(40)
        view, length = bore.view_factors(start, end)
        np.testing.assert_allclose(bore.exchange_factors(start, end, 1.0), length[:, None] * view, atol=1e-15)
        assert np.all(bore.exchange_factors(start, end, 0.0) == 0.0)
        mirror = np.where(np.arange(40) == 7, 0.0, 0.9)
        exchange = bore.exchange_factors(start, end, mirror)
        assert np.abs(exchange[7]).max() < 1e-15
        np.testing.assert_allclose(exchange, exchange.T, atol=1e-16)
        assert exchange.min() >= 0.0

    def test_close_parallel_plates(self):
        """Two wide plates a hair apart: 1/(1/e1 + 1/e2 - 1) an area (any textbook); the ends are mirrors."""
        width, gap, e1, e2 = 1.0, 1e-5, 0.8, 0.3
        x = np.linspace(0.0, width, 2)
        point = np.array([[x[0], 0.0], [x[1], 0.0], [x[1], gap], [x[0], gap]])
        exchange = bore.exchange_factors(point, np.roll(point, -1, axis=0), np.array([e1, 0.0, e2, 0.0]))
        assert exchange[0, 2] == pytest.approx(width / (1.0 / e1 + 1.0 / e2 - 1.0), rel=1e-4)

    def test_two_surfaces_of_a_half_full_bore(self):
        """Dry wall (1) and liquid level (2), each at one temperature: the textbooks' two-surface enclosure,
        G = 1/((1-e1)/(e1 A1) + 1/(A2 F21) + (1-e2)/(e2 A2)), F21 = 1. Reflections are resolved face by face
        here, so that the wall is not evenly lit: within 1 %, and exactly so if the wall is black."""
        start, end = ring(80, fill=0.5)
        wall = np.arange(160) < 80
        _, length = bore.view_factors(start, end)
        a1, a2 = length[wall].sum(), length[~wall].sum()
        for e1, rel in ((1.0, 1e-9), (0.8, 0.01)):
            exchange = bore.exchange_factors(start, end, np.where(wall, e1, 0.95))
            lumped = 1.0 / ((1.0 - e1) / (e1 * a1) + 1.0 / a2 + 0.05 / (0.95 * a2))
            assert exchange[wall][:, ~wall].sum() == pytest.approx(lumped, rel=rel)

    def test_open_or_reentrant_enclosure_is_refused(self):
        start, end = ring(12)
        with pytest.raises(ValueError, match="convex"):
            bore.view_factors(start[:-1], end[:-1])
        point = np.array([[0.0, 0.0], [1.0, 0.0], [0.3, 0.3], [0.0, 1.0]])
        with pytest.raises(ValueError, match="convex"):
            bore.view_factors(point, np.roll(point, -1, axis=0))
