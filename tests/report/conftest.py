"""A small invented case, solved once on coarse meshes."""

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from support_lines import line

from sim.case import parse_case
from sim.judge.check import Answer, check
from sim.report import write_report

SMALL: dict[str, Any] = {
    "title": "Small line (invented)",
    "pipe": {"size": "DN 50", "schedule": "40", "material": "carbon steel"},
    "contents": {"fluid": "water", "state": "still"},
    "tracer": [
        {"name": "T.1", "clock": 5, "shape": "flat", "width": "12 mm", "height": "5 mm", "output": "15 W/m"}
    ],
    "insulation": {"fit": "snug", "layer": [{"conductivity": "0.04 W/m/K", "thickness": "30 mm"}]},
    "barrier": {"material": "aluminium", "thickness": "0.6 mm"},
    "condition": [{"name": "cold", "ambient": "-10 degC", "wind": "3 m/s", "wind_from": 9}],
    "sensor": [{"name": "S.1", "clock": 12}, {"name": "S2", "clock": 4}],
    "limits": {"contents_min": "5 degC", "sheath_max": "150 degC"},
    "design": {"maintain": "5 degC", "heat_loss": "6 W/m", "margin": 0.2},
}


def _small(**changes: Any) -> dict[str, Any]:
    raw = copy.deepcopy(SMALL) | changes
    return {key: value for key, value in raw.items() if value is not None}


@pytest.fixture(scope="session")
def small() -> Callable[..., dict[str, Any]]:
    """The small case as a dict, with top-level keys replaced; None removes a key."""
    return _small


@pytest.fixture(scope="session")
def answer() -> Answer:
    """The small case checked."""
    return check(parse_case(_small()), fineness=1.0)


@pytest.fixture(scope="session")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of the small case, its words chosen to break pages, style sheets and names of files."""
    title = 'Small line <script>alert(1)</script> & "q" 冷盐水 $x_1$ {{7*7}} </title>'
    raw = _small(title=title, tag="10-P-1234 </style> & co", revision="B")
    raw["tracer"][0]["name"] = "T $a_b$ & 线"
    raw["condition"][0]["name"] = "冬夜 & night"
    folder = tmp_path_factory.mktemp("hostile") / "out"
    write_report(check(parse_case(raw), fineness=1.0), folder)
    return folder


@pytest.fixture(scope="session")
def shoe() -> Answer:
    """A line with a shoe whose leg is exposed for 60 mm and whose allowance is 0.4 m."""
    support = {"leg": {"exposed": "60 mm"}, "allowance": "0.4 m"}
    limits = {"wall_min": "5 degC", "contents_min": "4 degC", "wall_max": "90 degC", "sheath_max": "150 degC"}
    return check(parse_case(line(support, limits=limits)), fineness=0.75)
