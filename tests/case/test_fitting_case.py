"""Fittings in the case: families, what is refused and with which key, and what stays when it is written again."""

import tomllib
from itertools import pairwise
from typing import Any

import pytest
from fitting_lines import across, along, line

from sim.case import CaseError, parse_case, to_toml
from sim.case.catalogue.fittings import FACES
from sim.case.catalogue.flanges import FLANGES

FAMILIES = ("flange_pair", "gate_valve", "globe_valve", "ball_valve", "strainer", "branch", "pump", "stub")


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_has_bodies_and_is_written_again(family: str) -> None:
    case = parse_case(line(fitting={"family": family}))
    assert case.fittings[0].body
    assert parse_case(tomllib.loads(to_toml(case))) == case


def test_faces_are_tabled_where_flanges_are() -> None:
    for table in FACES.values():
        for rating, sizes in FLANGES.items():
            assert set(table[rating]) == set(sizes)
            rows = [table[rating][nps] for nps in sorted(sizes)]
            assert all(a < b for a, b in pairwise(rows))


@pytest.mark.parametrize("size", ["DN 32", "DN 40", "DN 65"])
@pytest.mark.parametrize("family", FAMILIES)
def test_sizes_between_have_bodies_too(size: str, family: str) -> None:
    raw = line(fitting={"family": family})
    raw["pipe"] = raw["pipe"] | {"size": size}
    assert parse_case(raw).fittings[0].body


HOLLOW: dict[str, Any] = {"diameter": "100 mm", "to": "120 mm"}
LOW: dict[str, Any] = {"diameter": "40 mm", "to": "200 mm"}
TWICE = [{"name": "V1", "family": "flange_pair"}] * 2
TRACER = {"name": "T1", "clock": 12, "output": "20 W/m", "shape": "flat", "width": "10 mm", "height": "4 mm"}
BAD: tuple[tuple[dict[str, Any], str, str], ...] = (
    (line(along(180, 45), across(60, 200) | {"from": "120 mm"}), "body[2].from", "floats free"),
    (line(across(90, 250, hollow=HOLLOW)), "body[1].hollow.diameter", "less than 90 mm"),
    (line(across(90, 250, hollow={"diameter": "60 mm", "to": "260 mm"})), "body[1].hollow.to", "leaves the body"),
    (line(along(100, 45)), "body[1].diameter", "not clear of the pipe"),
    (line(across(60, 50)), "body[1].to", "inside the pipe"),
    (line(along(180, 45) | {"from": "-30 mm"}), "body[1].from", "symmetric"),
    (line(across(60, 200) | {"from": "-5 mm"}), "body[1].from", "beyond the pipe's axis"),
    (line({"axis": "across", "diameter": "60 mm", "to": "200 mm"}), "body[1].clock", "needs its clock"),
    (line(along(180, 45, clock=12)), "body[1].clock", "only with it"),
    (
        line(along(180, 60, cover="40 mm"), along(230, 100) | {"from": "80 mm"}),
        "body[1].cover",
        "reaches over the bare body 2",
    ),
    (line(across(60, 200), tracer=[TRACER]), "body[1].clock", 'meets tracer "T1"'),
    (line(along(180, 45), fitting={"allowance_on": ["body 2"]}), "allowance_on", "known: body 1"),
    (line(fitting={}), "body", "has no bodies"),
    (line(along(180, 45), fitting={"class": "150"}), "class", "belongs to a family"),
    (line(along(180, 45), insulation={"layer": []}), 'fitting[1] "V1"', "at least one"),
    (line(along(0, 45)), "body[1].diameter", "outside what is accepted"),
    (line(across(60, 200) | {"from": "250 mm"}), "body[1].to", "not beyond from"),
    (line(along(180, 45) | {"from": "0 mm", "to": "-5 mm"}), "body[1].to", "not beyond from"),
    (line(fitting={"family": "gate_valve", "class": "900"}), "class", '"150" or "300"'),
    (line(along(180, 45), fitting={"allowance_on": ["V1"]}), "allowance_on", "known: body 1"),
    (line(along(180, 45), fitting={"allowance_on": "body 1"}), "allowance_on", '["body 1"]'),
    (line(across(90, 250, hollow=HOLLOW | {"diameter": "0 mm"})), "hollow.diameter", "outside"),
    (line(across(90, 250, hollow=LOW | {"from": "-10 mm"})), "hollow.from", "leaves the body"),
    (line(across(90, 250, hollow=LOW | {"from": "10 mm"}) | {"from": "50 mm"}), "hollow.from", "leaves the body"),
    (line(along(180, 90, hollow={"diameter": "90 mm", "to": "40 mm"})), "hollow.diameter", "within the bore"),
    (line(along(180, 45)) | {"fitting": TWICE}, 'fitting[2] "V1".name', "the name of fitting[1] already"),
    (line(along(180, 45), support=[{"name": "V1"}]), 'fitting[1] "V1".name', "name of a support"),
)  # fmt: skip


@pytest.mark.parametrize(("raw", "key", "words"), BAD)
def test_one_message_names_the_key(raw: dict[str, Any], key: str, words: str) -> None:
    with pytest.raises(CaseError) as raised:
        parse_case(raw)
    assert (raised.value.key or "").endswith(key)
    assert words in raised.value.message


def test_a_fitting_in_an_oversize_bore_is_refused() -> None:
    raw = line(along(180, 45))
    raw["insulation"] = raw["insulation"] | {"fit": "oversize", "bore": "125 mm"}
    with pytest.raises(CaseError, match="oversize"):
        parse_case(raw)


def test_an_episode_may_be_around_a_fitting_and_go_on_from_another_around_it_alone() -> None:
    episode = {"name": "E", "condition": "a", "lasts": "1 h", "support": "V1"}
    later = episode | {"name": "F", "start": "E"}
    assert parse_case(line(along(180, 45), episode=[episode, later])).episodes[1].support == "V1"
    del later["support"]
    with pytest.raises(CaseError, match=r"follows another field .that around V1 and not the section"):
        parse_case(line(along(180, 45), episode=[episode, later]))
    with pytest.raises(CaseError, match="is no support or fitting"):
        parse_case(line(along(180, 45), episode=[episode | {"support": "V2"}]))
