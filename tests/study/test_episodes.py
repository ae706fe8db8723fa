"""Studies that follow episodes: rows as the check judges them, limits in their own units, what is refused."""

import math

import pytest
from study_line import HEAD, LINE
from test_search import judged_by

from sim.case import CaseError, load_case, parse_case
from sim.judge.episode_answers import judge_episodes
from sim.solve.at_rest import MeshStore
from sim.study.edit import edited
from sim.study.run import run_variant
from sim.study.variants import load_study, variants

CUT = """
[[episode]]
name = "cut"
condition = "cold"
lasts = "3 h"
limits = { hold = "30 min", warm_up = "1 h" }
[[episode.change]]
at = "30 min"
supply = 0
[[episode]]
name = "wind"
condition = "hot"
lasts = "1 h"
"""
MIXED = LINE.replace('state = "still"', 'state = "empty"') + CUT
CUT_ONLY = HEAD + 'episodes = ["cut"]\n'
THICKER = '[[axis]]\nkey = "insulation.layer.1.thickness"\nvalues = ["30 mm", "60 mm"]\n'


@pytest.mark.slow
def test_a_row_holds_what_the_check_says_and_keys_of_an_episode_are_varied(write) -> None:
    """A power cut twice as late takes twice the energy, and the limit is broken later."""
    body = '[[axis]]\nkey = "episode.cut.change.1.at"\nvalues = ["30 min", "60 min"]\n'
    study = load_study(write(body, line=MIXED, head=CUT_ONLY))
    assert study.base.places == ("cold", "hot", "episode cut")
    rows = [run_variant(study.base, v) for v in variants(study)]
    assert [row.status for row in rows] == ["done", "done"], rows[0].reason
    early, late = (row.results["episode cut"] for row in rows)
    case = load_case(study.base.source)
    (own,) = judge_episodes(case, case.episodes[:1], MeshStore(), 0.75)
    assert own.hold is not None
    assert early["values"]["hold"] == own.hold.value
    assert early["bands"]["hold"] == own.hold.band
    assert early["verdicts"] == {check.limit: check.verdict for check in own.limits}
    assert early["verdicts"]["warm_up"] == "not evaluated"  # the case names nothing to warm to
    assert early["margins"]["warm_up"] is None
    assert early["margins"]["hold"] == pytest.approx(early["values"]["hold"] - 1800.0)
    energy, broken = (
        [row["values"][path] for row in (early, late)] for path in ("energy.T1", "first_broken.contents_min")
    )
    assert energy[1] == pytest.approx(2 * energy[0], rel=1e-6)
    assert broken[1] == pytest.approx(broken[0] + 1800.0, abs=60.0)


def test_a_series_is_scaled_and_a_time_shifted(write) -> None:
    line = MIXED.replace('lasts = "3 h"', 'lasts = "3 h"\nwarm_to = "9 degC"')
    line = line.replace("limits = {", 'supply = { at = [["0 h", 1.0], ["1 h", 0.5]] }\nlimits = {')
    body = '[[axis]]\nkey = "episode.cut.supply"\nas = "factor"\nvalues = [0.5]\n'
    body += '[[axis]]\nkey = "episode.cut.lasts"\nas = "shift"\nvalues = ["1 h"]\n'
    study = load_study(write(body, line=line, head=CUT_ONLY))
    (only,) = variants(study)
    episode = parse_case(edited(study.base.raw, only.changes), source=study.base.source).episodes[0]
    assert episode.supply is not None
    assert episode.supply.values == (0.5, 0.25)
    assert episode.lasts == 4 * 3600.0


@pytest.mark.parametrize(
    ("head", "body", "words"),
    [
        ('episodes = ["dusk"]\n', THICKER, 'no episode "dusk"'),
        ('episodes = ["cut"]\nconditions = ["hot"]\n', THICKER, 'of condition "cold", which is left out'),
        ("", THICKER.replace("insulation.layer.1.thickness", "episode.cut.lasts"), "are not followed"),
        ("episodes = 3\n", THICKER, '"all", "none", or a list of names'),
        ('keep = ["hold"]\n', THICKER, "is no result"),
    ],
)
def test_refused_with_its_key(write, head: str, body: str, words: str) -> None:
    with pytest.raises(CaseError, match=words) as caught:
        load_study(
            write(body.replace('"60 mm"', '"4 h"') if "lasts" in body else body, line=MIXED, head=HEAD + head)
        )
    assert caught.value.key is not None
    assert caught.value.key.startswith(("episodes", "keep"))


def test_a_case_without_episodes_and_all_asked_for(write) -> None:
    with pytest.raises(CaseError, match="the case has none"):
        load_study(write(THICKER, head=HEAD + 'episodes = "all"\n'))


def test_a_study_of_some_conditions_leaves_out_the_episodes_of_the_others(write) -> None:
    """A case with episodes of a condition that is not run is no bad case."""
    study = load_study(write(THICKER, line=MIXED, head=HEAD + 'conditions = ["hot"]\n'))
    assert run_variant(study.base, next(variants(study))).status == "done"


def test_the_margin_wanted_besides_is_of_temperatures_alone() -> None:
    """Half an hour to spare is enough where 2 K are asked for; a time that is short is not."""
    assert judged_by({"contents_min": [3.0], "hold": [1800.0]}, 0.4, margin="2 K").met
    assert not judged_by({"contents_min": [3.0], "hold": [-1800.0]}, 0.4, margin="2 K").met
    step = judged_by({"hold": [1800.0]}, 0.4)
    assert step.merit == pytest.approx(0.5, abs=1e-3)
    assert step.words.endswith("0.500 ± 0.000 h")
    assert math.isfinite(step.merit)
