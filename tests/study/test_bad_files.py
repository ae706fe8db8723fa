"""Bad study files: each ends in one message that names the file and the key and says what is accepted."""

import copy
import random
import tomllib
from pathlib import Path

import pytest

from sim.case import CaseError, load_case
from sim.study.search import space
from sim.study.variants import lay_out, load_study, parse_study, variants

READY = sorted((Path(__file__).resolve().parents[2] / "cases" / "studies").glob("*.toml"))

T, L, W, COLD = (
    "tracer.T1.clock",
    "insulation.layer.1.thickness",
    "condition.*.wind",
    "condition.cold.ambient",
)


def axis(key: str, more: str) -> str:
    return f'[[axis]]\nkey = "{key}"\n{more}\n'


def uncertain(key: str, more: str) -> str:
    return f'[[uncertain]]\nkey = "{key}"\ndistribution = {more}\n'


FACTORS = (("a", "tracer.T1.output"), ("b", "tracer.T1.width"), ("c", "tracer.T1.height"))
RANKS = (("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9))
BAD = {
    "unknown key": (axis("tracer.T1.clok", "values = [1, 2]"), 'did you mean "clock"'),
    "unknown table": (axis("insulaton.fit", 'values = ["snug"]'), 'did you mean "insulation"'),
    "unknown tracer": (axis("tracer.T7.clock", "values = [1]"), "there is no such tracer"),
    "unknown condition": (axis("condition.cod.wind", 'values = ["1 m/s"]'), 'did you mean "cold"'),
    "wrong unit": (axis(L, 'values = ["3 kg", "4 kg"]'), "not a unit of length"),
    "no unit": (axis(L, "values = [30, 40]"), "bare number"),
    "outside its range": (axis("contents.fill", "values = [0.5, 1.5]"), "outside what is accepted"),
    "no key at all": (axis("a = b", "values = [1]"), "is not a key"),
    "title varied": (axis("title", 'values = ["a"]'), "cannot be varied"),
    "empty list": (axis(T, "values = []"), "is empty"),
    "nothing varied": ("", "nothing is varied"),
    "unknown study key": ("[[axis]]\nkee = 1\n", 'did you mean "key"'),
    "range without end": (axis(T, "from = 1\ncount = 3"), "axis[1].to"),
    "range in two units": (axis(L, 'from = "30 mm"\nto = "1 in"\ncount = 3'), "does not go with the other values"),
    "step the wrong way": (axis(T, "from = 5\nto = 1\nstep = 1"), "never gets there"),
    "paired lengths": (
        axis(T, 'values = [1, 2]\npair = "p"') + axis(W, 'values = ["1 m/s"]\npair = "p"'),
        "differ in length",
    ),
    "factor with a unit": (axis("tracer.T1.output", 'as = "factor"\nvalues = ["2 W/m"]'), "accepted: plain numbers"),
    "shift in a foreign unit": (axis(COLD, 'as = "shift"\nvalues = ["2 mm"]'), "no unit for a shift"),
    "unknown condition to run": ('conditions = ["col"]\n' + axis(T, "values = [1]"), "conditions"),
    "unknown result": ('keep = ["contents.minn"]\n' + axis(T, "values = [1]"), "is no result"),
    "unknown distribution": (uncertain(T, '"norml"'), 'did you mean "normal"'),
    "missing spread": (uncertain(T, '"normal"\nmean = 5'), "spread"),
    "spread in a foreign unit": (
        uncertain(L, '"normal"\nmean = "30 mm"\nspread = "1 K"'),
        "does not go with the other values",
    ),
    "uncertain key unknown": (uncertain("pipe.wal", '"uniform"\nlow = 1\nhigh = 2'), "wall"),
    "not a power of two": (
        uncertain(T, '"uniform"\nlow = 4\nhigh = 6\n[sampling]\nmethod = "sobol"\nsamples = 100'),
        "not a power of 2",
    ),
    "impossible correlation": (
        "".join(uncertain(k, f'"uniform"\nname = "{n}"\nas = "factor"\nlow = 0.9\nhigh = 1.1') for n, k in FACTORS)
        + "".join(f'[[correlation]]\nbetween = ["{a}", "{b}"]\nrank = {r}\n' for a, b, r in RANKS),
        "not positive definite",
    ),
    "search without a bracket": (f'[search]\nkey = "{L}"\nlow = "10 mm"\n', "search.high"),
    "not toml": ("[[axis]\n", "not valid TOML"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_one_message(write, name: str) -> None:
    body, telling = BAD[name]
    path = write(body)
    with pytest.raises(CaseError) as caught:
        load_study(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert telling in message
    assert "\n" not in message


def test_case_that_is_not_there(write) -> None:
    path = write(axis(T, "values = [1]"))
    (path.parent / "line.toml").unlink()
    with pytest.raises(CaseError, match="there is no case file"):
        load_study(path)


def test_a_million_variants_are_asked_about_before_any_is_listed(write) -> None:
    wide = 'name = "{}"\nas = "factor"\nfrom = 0.9\nto = 1.1\ncount = 100'
    path = write("".join(axis(key, wide.format(name)) for name, key in FACTORS))
    with pytest.raises(CaseError, match=r"1,000,000 variants \(100 x 100 x 100\).*--yes"):
        load_study(path, most=10_000)
    assert load_study(path).size == 1_000_000


def test_a_place_that_cannot_be_is_a_failed_variant_not_a_bad_file(write) -> None:
    """Two tracers at one place fail as a variant: the key and its values are good."""
    twice = '[[axis]]\nkey = "tracer.count"\nclocks = [[6.0], [6.0, 6.05]]\n'
    assert load_study(write(twice)).size == 2


@pytest.mark.parametrize("path", READY, ids=lambda path: path.stem)
def test_ready_studies_are_good(path: Path) -> None:
    study = load_study(path)
    assert "(invented)" in study.file.title
    assert study.file.search is not None or study.size > 1


SPOILT = [
    float("nan"),
    float("inf"),
    -1,
    0,
    1e308,
    10**30,
    "",
    "5",
    "5 mm",
    "-3 degC",
    "nan mm",
    True,
    [],
    {},
]
SPOILT += [[[1]], {"a": 1}, "..", "*", "tracer", "tracer.*", "tracer.count", "condition", "insulation.layer"]


def places(node, path=()):
    """Paths of everything in a nested dict."""
    entries = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in entries:
        yield (*path, key)
        yield from places(value, (*path, key))


@pytest.mark.parametrize("seed", range(100))
def test_spoilt_studies_are_read_or_refused_with_the_file_named(seed: int) -> None:
    dice = random.Random(seed)
    file = dice.choice(READY)
    raw = tomllib.loads(file.read_text(encoding="utf-8"))
    case = file.parent / raw["case"]
    path = dice.choice(list(places(raw)))
    node = raw
    for step in path[:-1]:
        node = node[step]
    if dice.random() < 0.2:
        del node[path[-1]]
    else:
        node[path[-1]] = copy.deepcopy(dice.choice(SPOILT))
    message = "file: "
    try:
        study = lay_out(
            parse_study(raw, "file"),
            "file",
            load_case(case),
            tomllib.loads(case.read_text("utf-8")),
            most=3000,
        )
        next(iter(variants(study)))
        if study.file.search is not None:
            space(study)
    except CaseError as error:
        message = str(error)
    assert message.startswith("file: ")
    assert "\n" not in message
