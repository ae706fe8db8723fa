"""Samples have the distributions and rank correlations asked for, and are the same each time."""

import numpy as np
import pytest
from scipy import stats

from sim.study.variants import load_study, variants

INPUTS = """
uncertain = [
{ name = "conductivity", key = "insulation.layer.1.conductivity", as = "factor", distribution = "lognormal", \
median = 1.1, spread = 0.2 },
{ name = "ambient", key = "condition.cold.ambient", distribution = "normal", mean = "-20 degC", spread = "3 K", \
high = "-14 degC" },
{ name = "wind", key = "condition.cold.wind", distribution = "triangular", low = "1 m/s", mode = "3 m/s", \
high = "9 m/s" }]
"""


def sample(write, body: str) -> np.ndarray:
    return load_study(write(INPUTS + body)).sample


def test_latin_hypercube_has_one_sample_in_each_stratum_and_the_given_laws(write) -> None:
    drawn = sample(write, "[sampling]\nsamples = 500\n")
    laws = (
        stats.lognorm(0.2, scale=1.1),
        stats.truncnorm(-np.inf, 2.0, -20.0, 3.0),
        stats.triang(0.25, 1.0, 8.0),
    )
    for column, law in zip(drawn.T, laws, strict=True):
        strata = np.sort((law.cdf(column) * 500).astype(int))
        assert np.array_equal(strata, np.arange(500))


@pytest.mark.parametrize("method", ["latin hypercube", "sobol"])
def test_rank_correlation_is_what_was_asked_for(write, method: str) -> None:
    body = f'[sampling]\nmethod = "{method}"\nsamples = 1024\n'
    body += '[[correlation]]\nbetween = ["wind", "ambient"]\nrank = -0.6\n'
    drawn = sample(write, body)
    ranks = stats.spearmanr(drawn).statistic
    assert ranks[1, 2] == pytest.approx(-0.6, abs=0.06)
    assert abs(ranks[0, 1]) < 0.1
    assert abs(ranks[0, 2]) < 0.1
    assert drawn[:, 1].max() < -14.0


def test_the_same_seed_gives_the_same_variants(write) -> None:
    def keys(seed: int) -> list[str]:
        return [
            v.key for v in variants(load_study(write(INPUTS + f"[sampling]\nsamples = 8\nseed = {seed}\n")))
        ]

    assert keys(1) == keys(1)
    assert set(keys(1)).isdisjoint(keys(2))


def test_axes_share_one_sample(write) -> None:
    """Every point of an axis sees the same samples, so that points are compared and not luck."""
    body = INPUTS + '[[axis]]\nkey = "tracer.T1.clock"\nvalues = [3, 6]\n[sampling]\nsamples = 4\n'
    listed = list(variants(load_study(write(body))))
    assert len(listed) == 8
    winds = [v.numbers["wind"] for v in listed]
    assert winds[:4] == winds[4:]
