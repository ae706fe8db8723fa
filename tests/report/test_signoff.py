"""What is signed: the head of the first page, the hash of the case, and pages that hold together in print."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sim.case import load_case, parse_case, resolved
from sim.report.signoff import case_hash, css_string, page_foot
from sim.version import __version__

Small = Callable[..., dict[str, Any]]


def test_the_hash_is_of_what_is_computed_and_nothing_else(small: Small, tmp_path: Path) -> None:
    case = parse_case(small())
    assert case_hash(case) == case_hash(parse_case(small()))
    assert case_hash(case) == case_hash(parse_case(resolved(case)))
    assert case_hash(case) != case_hash(parse_case(small(revision="B")))
    warmer = small()
    warmer["condition"][0]["ambient"] = "-9.9 degC"
    assert case_hash(case) != case_hash(parse_case(warmer))


def test_first_page_and_results_say_what_they_are_of(hostile: Path) -> None:
    case = load_case(hostile / "resolved.toml")
    page = (hostile / "report.html").read_text(encoding="utf-8")
    head = re.sub(r"<[^>]*>", " ", page[page.index("<body") : page.index('class="banner')])
    for words in (
        "10-P-1234",
        "B",
        case_hash(case)[:12],
        f"coldspot {__version__}",
        "prepared by",
        "checked by",
    ):
        assert words in head
    assert page.count("</style>") == 1
    tree = json.loads((hostile / "results.json").read_text(encoding="utf-8"))
    assert (tree["tag"], tree["revision"]) == (case.tag, "B") == ("10-P-1234 </style> & co", "B")
    assert tree["case_hash"] == case_hash(case)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", tree["date"])


def test_foot_of_a_page_cannot_leave_its_style_sheet(small: Small) -> None:
    assert css_string('a"b') == '"a\\22 b"'
    assert set(css_string("</style>\n\\")) <= set('"\\0123456789abcdef styl')
    assert page_foot(parse_case(small())).startswith("case ")
    assert page_foot(parse_case(small(tag="L-1", revision="2"))).startswith("L-1, revision 2, case ")
