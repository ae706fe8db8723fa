"""Samples of uncertain inputs: Latin hypercube and Sobol from scipy.stats.qmc, or SALib's pairs for Sobol indices.

Correlated inputs go through a Gaussian copula: a rank correlation r (Spearman) is a correlation 2 sin(pi r / 6) of the
underlying normal variables (Pearson 1907; e.g. Kruskal, J. Amer. Stat. Assoc. 53 (1958) 814).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.basics import Array as Array
from sim.case import CaseError
from sim.case.errors import nearest

from .axes import Line, Point, checked_key, relative_scale, try_points, written
from .edit import Change, Path
from .quantity import need_number, number_in, text_in
from .schema import StudyFile, Uncertain

EDGE = 1e-12  # keeps the ends of a distribution finite


@dataclass(frozen=True)
class Input:
    """One uncertain input laid out: numbers are in `unit`; parameters by name in that unit."""

    name: str
    unit: str
    path: Path
    entry: Uncertain
    parameters: dict[str, float]
    scale: float

    @property
    def label(self) -> str:
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    def quantile(self, probability: Array) -> Array:
        """Values at probabilities, any shape, in `unit`."""
        from scipy import stats

        p = self.parameters
        kind = self.entry.distribution
        if kind == "uniform":
            law = stats.uniform(p["low"], p["high"] - p["low"])
        elif kind == "triangular":
            width = p["high"] - p["low"]
            law = stats.triang((p["mode"] - p["low"]) / width, p["low"], width)
        elif kind == "lognormal":
            law = stats.lognorm(p["spread"], scale=p["median"])
        else:
            law = stats.norm(p["mean"], p["spread"])
        if kind in ("normal", "lognormal") and ("low" in p or "high" in p):
            bottom = float(law.cdf(p["low"])) if "low" in p else 0.0
            top = float(law.cdf(p["high"])) if "high" in p else 1.0
            probability = bottom + probability * (top - bottom)
        return np.asarray(law.ppf(np.clip(probability, EDGE, 1 - EDGE)), dtype=float)

    def change(self, number: float) -> Change:
        """What one value of the input sets."""
        return self.path, written(number, self.unit, self.entry.mode, self.scale)


def inputs(study: StudyFile, raw: dict[str, Any], file: str) -> tuple[Input, ...]:
    """All uncertain inputs, their middle and edges tried on the case. Raises CaseError."""
    return tuple(_input(e, f"uncertain[{n}]", raw, file) for n, e in enumerate(study.uncertain, start=1))


def _input(entry: Uncertain, key: str, raw: dict[str, Any], file: str) -> Input:
    path = checked_key(entry.key, f"{key}.key", file)
    name = entry.name or entry.key
    place = {"normal": "mean", "lognormal": "median"}.get(entry.distribution, "low")
    centre, unit = need_number(getattr(entry, place), f"{key}.{place}", file)
    parameters = {place: centre}
    for parameter in ("spread", "low", "high", "mode"):
        value = entry.mode_value if parameter == "mode" else getattr(entry, parameter)
        if value is None:
            continue
        at, spread = f"{key}.{parameter}", parameter == "spread"
        plain = spread and entry.distribution == "lognormal"
        parameters[parameter] = number_in(value, "" if plain else unit, at, file, difference=spread)
    _sensible(parameters, entry.distribution, key, file)
    scale = relative_scale(unit, path, entry.mode, key, file, raw)
    laid = Input(name, unit, path, entry, parameters, scale)
    middle, outer = laid.quantile(np.array([0.5])), laid.quantile(np.array([0.02, 0.98]))
    points = tuple(
        Point(text_in(unit, float(v)), float(v), (laid.change(float(v)),)) for v in (*middle, *outer)
    )
    try_points(Line(name, unit, path, points), key, raw, file)
    return laid


def _sensible(p: dict[str, float], kind: str, key: str, file: str) -> None:
    if p.get("spread", 1.0) <= 0:
        raise CaseError("must be above 0", file=file, key=f"{key}.spread")
    if kind == "lognormal" and p["median"] <= 0:
        raise CaseError("must be above 0", file=file, key=f"{key}.median")
    if p.get("low", -np.inf) >= p.get("high", np.inf):
        raise CaseError("must be above low", file=file, key=f"{key}.high")
    if kind == "triangular" and not p["low"] <= p["mode"] <= p["high"]:
        raise CaseError("must lie between low and high", file=file, key=f"{key}.mode")
    centre = p.get("mean", p.get("median"))
    if centre is not None and not p.get("low", -np.inf) < centre < p.get("high", np.inf):
        raise CaseError("must lie between low and high", file=file, key=key)


def sample(study: StudyFile, laid: tuple[Input, ...], file: str) -> Array:
    """The sample in the inputs' own units, shape (variants, inputs); the same for the same file. Raises CaseError."""
    if not laid:
        return np.zeros((1, 0))
    unit_cube = _unit_cube(study, len(laid))
    correlation = _correlation(study, laid, file)
    if correlation is not None:
        from scipy.special import ndtr, ndtri

        normal = ndtri(np.clip(unit_cube, EDGE, 1 - EDGE)) @ np.linalg.cholesky(correlation).T
        unit_cube = ndtr(normal)
    return np.column_stack([entry.quantile(unit_cube[:, j]) for j, entry in enumerate(laid)])


def sample_size(study: StudyFile) -> int:
    """Number of samples, without drawing them."""
    if not study.uncertain:
        return 1
    pairs = study.sampling.method == "saltelli"
    return study.sampling.samples * ((len(study.uncertain) + 2) if pairs else 1)


def salib() -> Any:
    """The SALib library. Raises CaseError that says how to get it."""
    try:
        import SALib.analyze.sobol
        import SALib.sample.sobol
    except ImportError:
        message = (
            "Sobol indices need the library SALib: pip install 'coldspot[study]'; or use latin hypercube"
        )
        raise CaseError(message, key="sampling.method") from None
    return SALib


def problem(names: tuple[str, ...]) -> dict[str, Any]:
    """SALib's description of inputs on the unit cube."""
    return {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}


def _unit_cube(study: StudyFile, dimensions: int) -> Array:
    from scipy.stats import qmc

    plan = study.sampling
    if plan.method == "saltelli":
        description = problem(tuple(str(n) for n in range(dimensions)))
        drawn = salib().sample.sobol.sample(
            description, plan.samples, calc_second_order=False, seed=plan.seed
        )
        return np.asarray(drawn, dtype=float)
    if plan.method == "sobol":
        return qmc.Sobol(dimensions, rng=plan.seed).random_base2(plan.samples.bit_length() - 1)
    return qmc.LatinHypercube(dimensions, rng=plan.seed).random(plan.samples)


def _correlation(study: StudyFile, laid: tuple[Input, ...], file: str) -> Array | None:
    """Correlation of the underlying normal variables, shape (inputs, inputs), or None where all are independent."""
    if not study.correlations:
        return None
    names = [entry.name for entry in laid]
    keys = [entry.entry.key for entry in laid]
    matrix = np.eye(len(laid))
    for n, entry in enumerate(study.correlations, start=1):
        places = []
        for word in entry.between:
            if word not in names and word not in keys:
                message = (
                    f'there is no uncertain input "{word}"{nearest(word, names)}; known: {", ".join(names)}'
                )
                raise CaseError(message, file=file, key=f"correlation[{n}].between")
            places.append(names.index(word) if word in names else keys.index(word))
        if places[0] == places[1]:
            raise CaseError("names the same input twice", file=file, key=f"correlation[{n}].between")
        matrix[places[0], places[1]] = matrix[places[1], places[0]] = 2 * np.sin(np.pi * entry.rank / 6)
    if np.linalg.eigvalsh(matrix).min() <= 1e-10:
        message = "no inputs can be correlated like this all at once: the correlation matrix is not positive definite"
        raise CaseError(message, file=file, key="correlation")
    return matrix
