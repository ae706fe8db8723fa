"""Inside films against handbook values; radiation in the bore against closed forms."""

from types import SimpleNamespace

import numpy as np
import pytest

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

    def test_open_or_reentrant_enclosure_is_refused(self):
        start, end = ring(12)
        with pytest.raises(ValueError, match="convex"):
            bore.view_factors(start[:-1], end[:-1])
        point = np.array([[0.0, 0.0], [1.0, 0.0], [0.3, 0.3], [0.0, 1.0]])
        with pytest.raises(ValueError, match="convex"):
            bore.view_factors(point, np.roll(point, -1, axis=0))
