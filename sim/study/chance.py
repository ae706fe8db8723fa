"""What uncertain inputs say: how likely each limit holds, how far a result spreads, and which input drives it.

Intervals are Clopper and Pearson's (Biometrika 26 (1934) 404), from scipy.stats. They are meant for independent
samples; Latin hypercube and Sobol samples scatter less, so for them the interval is on the wide side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .band import Bands, judged_path
from .frame import Array, Frame
from .row import NOTHING
from .sampling import Input, problem, salib
from .schema import Sampling
from .verdicts import limit_in_words, verdicts
from .words import band_unit, displayed, number, of_list, spoken, unit, verb

Rows = NDArray[np.int64]
ALL = "all limits"
OUTCOME = {"pass": 1, "fail": -1} | dict.fromkeys(NOTHING, 1)  # others are too near to say
FEW = 8  # samples below which nothing is said of what drives a result


@dataclass(frozen=True)
class Chance:
    """How likely a limit holds. holds, close, n: samples that clear it by their band, that are too near to say (or
    could not be computed), all; low, high: confidence interval, too near ones counted against and for."""

    condition: str
    limit: str
    holds: int
    close: int
    n: int
    probability: float
    low: float
    high: float

    def in_words(self) -> str:
        text = (
            f"{100 * self.probability:.1f} % ({100 * self.low:.1f} to {100 * self.high:.1f} %; "
            f"{self.holds} of {self.n} hold"
        )
        return text + (f", {self.close} too close to call)" if self.close else ")")


@dataclass(frozen=True)
class Spread:
    """How a result scatters, in the unit it is shown in."""

    condition: str
    path: str
    mean: float
    deviation: float
    percentiles: tuple[float, float, float]  # 5, 50, 95 %


@dataclass(frozen=True)
class Driver:
    """How strongly an input drives a result. method: "total Sobol index" or "rank correlation"; band: half width."""

    condition: str
    path: str
    name: str
    method: str
    value: float
    band: float
    first: float | None = None


def groups(frame: Frame, samples: int) -> list[Rows]:
    """Rows of each point of the axes: one group of `samples` where nothing but the inputs vary."""
    by_point: dict[int, list[int]] = {}
    for i, n in enumerate(frame.number):
        by_point.setdefault(int(n) // samples, []).append(i)
    return [np.array(rows) for _, rows in sorted(by_point.items())]


def independent(
    rows: Rows, numbers: NDArray[np.int64], sampling: Sampling, inputs: int, samples: int
) -> Rows:
    """Of the pairs for Sobol indices, those that are plain samples of the inputs; else all."""
    if sampling.method != "saltelli":
        return rows
    within = (numbers[rows] % samples) % (inputs + 2)
    return rows[(within == 0) | (within == inputs + 1)]


def chances(frame: Frame, bands: Bands, rows: Rows, confidence: float) -> list[Chance]:
    """Chance of each limit in each condition over some rows, and of all together last."""
    estimates: list[Chance] = []
    outcomes, clear = [], []
    for condition, by_limit in frame.margins.items():
        for limit, column in by_limit.items():
            every = verdicts(frame, bands, condition, limit)
            judged = [every[int(i)] for i in rows]
            outcomes.append(np.array([OUTCOME.get(verdict, 0) for verdict in judged]))
            clear.append(np.array([verdict in NOTHING for verdict in judged]) | (column[rows] > 0))
            estimates.append(_chance(condition, limit, outcomes[-1], clear[-1], confidence))
    if len(estimates) > 1:
        whole, above = np.min(outcomes, axis=0), np.all(clear, axis=0)
        estimates.append(_chance("all conditions", ALL, whole, above, confidence))
    return estimates


def _chance(
    condition: str, limit: str, outcome: NDArray[np.int64], clear: NDArray[np.bool_], level: float
) -> Chance:
    """outcome: 1 of a sample that holds, -1 of one that does not, 0 of one that is too near to say."""
    k, close, n = int((outcome == 1).sum()), int((outcome == 0).sum()), len(outcome)
    low, high = interval(k, n, level)[0], interval(k + close, n, level)[1]
    return Chance(condition, limit, k, close, n, float(clear.mean()), low, high)


def interval(k: int, n: int, confidence: float) -> tuple[float, float]:
    """Clopper-Pearson interval of a probability of which k of n samples were seen."""
    from scipy.stats import binomtest

    bounds = binomtest(k, n).proportion_ci(confidence_level=confidence, method="exact")
    return float(bounds.low), float(bounds.high)


def inside_band(frame: Frame, bands: Bands, condition: str, path: str, rows: Rows) -> bool:
    """Whether a result moves over some rows by no more than the numerical band: nothing is said of its scatter then."""
    column = frame.values[condition][path]
    known = rows[np.isfinite(column[rows])]
    if not len(known):
        return True
    low, high = known[int(np.argmin(column[known]))], known[int(np.argmax(column[known]))]
    return bool(column[high] - column[low] <= bands.difference(condition, path, int(low), int(high)))


def spreads(frame: Frame, bands: Bands, rows: Rows, paths: list[str]) -> list[Spread]:
    """Scatter of each result shown, in each condition, where it is more than the numerical band."""
    known_spreads = []
    for condition, by_path in frame.values.items():
        for path in paths:
            column = by_path.get(path)
            known = column[rows][np.isfinite(column[rows])] if column is not None else np.zeros(0)
            if len(known) < 2 or inside_band(frame, bands, condition, path, rows):
                continue
            low, middle, high = (displayed(path, float(v)) for v in np.percentile(known, [5, 50, 95]))
            mean = displayed(path, float(known.mean()))
            known_spreads.append(Spread(condition, path, mean, float(known.std(ddof=1)), (low, middle, high)))
    return known_spreads


def drivers(
    frame: Frame, bands: Bands, rows: Rows, paths: list[str], inputs: tuple[Input, ...], sampling: Sampling
) -> list[Driver]:
    """Which input drives each result: total Sobol indices where the sample is made for them, else rank correlation."""
    names = tuple(entry.name for entry in inputs)
    ranked = []
    for condition, by_path in frame.values.items():
        for path in paths:
            column = by_path.get(path)
            if column is None or len(rows) < FEW:
                continue
            values = column[rows]
            known = np.isfinite(values)
            if known.sum() < FEW or inside_band(frame, bands, condition, path, rows):
                continue
            if sampling.method == "saltelli" and known.all():
                ranked += _sobol(condition, path, names, values, sampling)
            else:
                ranked += _ranked(
                    condition, path, names, frame, rows[known], values[known], sampling.confidence
                )
    return ranked


def _sobol(
    condition: str, path: str, names: tuple[str, ...], values: Array, sampling: Sampling
) -> list[Driver]:
    """Saltelli's estimators, from SALib (Sobol 2001; Saltelli et al., Comput. Phys. Commun. 181 (2010) 259)."""
    index = salib().analyze.sobol.analyze(
        problem(names),
        values - values.mean(),
        calc_second_order=False,
        conf_level=sampling.confidence,
        seed=sampling.seed,
    )
    return [
        Driver(condition, path, n, "total Sobol index", float(t), float(c), float(f))
        for n, t, c, f in zip(names, index["ST"], index["ST_conf"], index["S1"], strict=True)
    ]


def _ranked(
    condition: str,
    path: str,
    names: tuple[str, ...],
    frame: Frame,
    rows: Rows,
    values: Array,
    confidence: float,
) -> list[Driver]:
    """Spearman's rank correlation; half width of its interval by Fisher's transform (Fieller et al. 1957)."""
    from scipy.stats import norm, spearmanr

    ranked = []
    for name in names:
        correlation = float(spearmanr(frame.inputs[name][rows], values).statistic)
        width = float(norm.ppf(0.5 + confidence / 2)) * 1.03 / np.sqrt(max(len(rows) - 3, 1))
        z = np.arctanh(np.clip(correlation, -0.999999, 0.999999))
        band = float(np.tanh(z + width) - np.tanh(z - width)) / 2
        ranked.append(Driver(condition, path, name, "rank correlation", correlation, band))
    return ranked


def statements(
    chances: list[Chance], spread: list[Spread], drive: list[Driver], label: str, confidence: float
) -> list[str]:
    """The chances, the spread and the input whose better knowledge pays most, in words."""
    start = f"{label}: " if label else ""
    texts = []
    level = f"{100 * confidence:g} % confidence"
    for chance in chances:
        if chance.holds == chance.n and chance.limit != ALL:
            continue
        what = ALL if chance.limit == ALL else f"the limit on the {limit_in_words(chance.limit)}"
        holds = "hold" if chance.limit == ALL else "holds"
        texts.append(
            f"{start}{chance.condition}: {what} {holds} with a probability of {chance.in_words()}, {level}."
        )
    whole = [c for c in chances if c.holds == c.n and c.limit != ALL]
    if whole:
        names = of_list([f"{limit_in_words(c.limit)} in {c.condition}" for c in whole], 6)
        texts.append(
            f"{start}held in all {whole[0].n} samples (a probability of {100 * whole[0].low:.1f} % or more, {level}): "
            f"{names}."
        )
    for s in spread:
        symbol = unit(s.path)
        low, middle, high = (number(v, 1) for v in s.percentiles)
        name = spoken(s.path)
        texts.append(
            f"{start}{s.condition}: the {name} {verb(name, 'lies', 'lie')} between {low} and {high} {symbol} in nine "
            f"of ten (median {middle} {symbol}, standard deviation {number(s.deviation, 2)} {band_unit(s.path)})."
        )
    return texts + [start + text for text in _pays(chances, drive)]


def _pays(chances: list[Chance], drive: list[Driver]) -> list[str]:
    """The input that drives the limit that is least sure; no claim where the first two cannot be told apart."""
    single = [c for c in chances if c.limit != ALL]
    if not single or not drive:
        return []
    weakest = min(single, key=lambda c: c.probability)
    paths = {d.path for d in drive if d.condition == weakest.condition}
    paths_of_limit = judged_path(weakest.limit, paths)
    ranked = sorted(
        (d for d in drive if d.condition == weakest.condition and d.path == paths_of_limit),
        key=lambda d: -abs(d.value),
    )
    if not ranked:
        return []
    top = ranked[0]
    if top.band >= abs(top.value):
        return [
            f"No input stands out as the driver of the {spoken(top.path)} in {top.condition}: more samples are needed."
        ]
    name = spoken(top.path)
    text = (
        f"In {top.condition} the {name} (the least sure limit) {verb(name, 'is', 'are')} driven most by {top.name} "
        f"({top.method} {top.value:.2f} ± {top.band:.2f}): better knowledge of it pays most."
    )
    if len(ranked) > 1 and abs(ranked[1].value) + ranked[1].band > abs(top.value) - top.band:
        second = f"{ranked[1].name} ({ranked[1].value:.2f} ± {ranked[1].band:.2f})"
        text += f" {second} cannot be told from it with these samples."
    return [text]


def still(frame: Frame, bands: Bands, rows: Rows, paths: list[str], label: str) -> list[str]:
    """Results that the inputs do not move beyond the numerical band."""
    names = [
        f"{spoken(path)} in {condition}"
        for condition, by_path in frame.values.items()
        for path in paths
        if path in by_path
        and np.isfinite(by_path[path][rows]).any()
        and inside_band(frame, bands, condition, path, rows)
    ]
    if not names:
        return []
    start = f"{label}: " if label else ""
    return [
        f"{start}inside the numerical band in all samples, so neither spread nor driver is told: {of_list(names, 8)}."
    ]
