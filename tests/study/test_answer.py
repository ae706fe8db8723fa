"""What a study says, on lines of which the physics is known beforehand."""

import numpy as np
import pytest
from study_line import HEAD, LINE

from sim.study.execute import execute
from sim.study.pool import serial
from sim.study.store import Store
from sim.study.variants import load_study

CLOCKS = '[[axis]]\nkey = "tracer.T1.clock"\nname = "clock"\nvalues = [0, 2, 4, 6]\n'


@pytest.fixture
def ask(write, tmp_path):
    def answered(body: str, **given):
        study = load_study(write(body, **given))
        with Store(tmp_path / "s.sqlite", "one") as store:
            return execute(study, store, serial)

    return answered


def texts(answers, kind: str) -> list[str]:
    return [s.text for s in answers.statements if s.kind == kind]


def test_a_symmetric_line_makes_no_difference_and_is_said_to(ask) -> None:
    answers = ask(CLOCKS)
    assert texts(answers, "change") == []
    assert all("no change beyond the numerical band" in text for text in texts(answers, "none"))
    (why,) = texts(answers, "why")
    assert why.startswith("cold and hot: The tracers' clock position makes no difference in this condition")


def test_a_half_filled_line_makes_a_difference_and_says_why(ask) -> None:
    line = LINE.replace('state = "still"', 'state = "still"\nfill = 0.5')
    answers = ask(
        CLOCKS, line=line, head=HEAD.replace("0.75", "1.5").replace("references = 1", "references = 3")
    )
    liquid = answers.frame.values["cold"]["liquid.min"]
    # Heat from below reaches the liquid first; from above it comes through air and around the wall.
    assert liquid[3] > liquid[0]
    assert any("coldest liquid" in text for text in texts(answers, "change"))
    assert any("the bore is partly filled" in text for text in texts(answers, "why"))


def test_bands_of_one_mesh_hold_the_finer_answer_at_the_references(ask) -> None:
    answers = ask(CLOCKS, head=HEAD.replace("references = 1", "references = 4"))
    finer = ask(CLOCKS, head=HEAD.replace("0.75", "3") + "meshes = 3\n")
    for path in ("contents.min", "tracers.sheath_max", "heat_out"):
        for condition in ("cold", "hot"):
            coarse, fine = answers.frame.values[condition][path], finer.frame.values[condition][path]
            assert np.all(np.abs(coarse - fine) <= answers.bands.shared[condition][path])


@pytest.mark.slow
@pytest.mark.parametrize("head", [HEAD.replace("references = 1", "references = 3"), HEAD + "meshes = 3\n"])
def test_what_two_positions_have_in_common_of_their_errors_drops_out(ask, head) -> None:
    """3 and 9 are mirror images; 1 and 4 o'clock differ by what finer meshes give, within a band far below both."""
    line = LINE.replace('state = "still"', 'state = "still"\nfill = 0.5')
    axis = CLOCKS.replace("[0, 2, 4, 6]", "[1, 3, 4, 9]")
    answers = ask(axis, line=line, head=head.replace("0.75", "1"))
    finer = ask(axis, line=line, head=HEAD.replace("0.75", "2.5") + "meshes = 3\n")
    for path in ("liquid.min", "wall.min", "tracers.sheath_max"):
        coarse, fine = answers.frame.values["cold"][path], finer.frame.values["cold"][path]
        mirrored = answers.bands.difference("cold", path, 1, 3)
        assert abs(coarse[1] - coarse[3]) <= mirrored < 0.1 * answers.bands.of("cold", path, 1)
        band = answers.bands.difference("cold", path, 0, 2)
        assert abs((coarse[0] - coarse[2]) - (fine[0] - fine[2])) <= band
        assert band < 0.5 * answers.bands.of("cold", path, 0)


def test_colder_ambient_is_colder_by_as_much_where_all_is_linear(ask) -> None:
    """Fixed film and output, constant conductivity: every temperature moves with the ambient (superposition)."""
    answers = ask(
        '[[axis]]\nkey = "condition.cold.ambient"\nname = "ambient"\nvalues = ["-40 degC", "-20 degC"]\n'
    )
    wall = answers.frame.values["cold"]["wall.mean"]
    # Steel and water have weakly temperature-dependent conductivity; the insulation decides.
    assert wall[1] - wall[0] == pytest.approx(20.0, abs=0.05)
    (text,) = [t for t in texts(answers, "change") if "coldest contents" in t]
    assert "ambient from -40 degC to -20 degC: the coldest contents rise by 20" in text


def test_a_condition_that_sets_the_key_itself_is_named(ask) -> None:
    line = LINE.replace('output = "high"', 'output = "high"\ntracer.T1.clock = 3')
    assert any("hot sets tracer.T1.clock itself" in t for t in texts(ask(CLOCKS, line=line), "note"))


def test_the_input_that_matters_is_found_and_the_probability_is_right(ask) -> None:
    """Ambient alone decides (the other input does nothing), and the line is linear in it: P is a normal tail."""
    body = """uncertain = [
{ name = "ambient", key = "condition.cold.ambient", distribution = "normal", mean = "-20 degC", spread = "4 K" },
{ name = "density", key = "insulation.layer.1.density", distribution = "uniform", low = "50 kg/m3", \
high = "150 kg/m3" }]
sampling = { samples = 64 }
"""
    from scipy.stats import norm

    plain = ask('[[axis]]\nkey = "contents.fill"\nvalues = [1.0]\n')
    margin = float(plain.frame.margins["cold"]["contents_min"][0])
    shift = 273.15 + 5.0 + margin - 1.5 - 273.15  # a limit that lies 1.5 K below the mean
    answers = ask(
        body, line=LINE.replace("5 degC", f"{shift:.4f} degC"), head=HEAD + 'conditions = ["cold"]\n'
    )
    (group,) = answers.groups
    computed = next(c for c in group.chances if c.limit == "contents_min")
    assert computed.probability == pytest.approx(norm.cdf(1.5 / 4.0), abs=1.5 / 64)
    assert computed.low < norm.cdf(1.5 / 4.0) < computed.high
    drive = {d.name: d.value for d in group.drivers if d.path == "contents.min"}
    assert drive["ambient"] > 0.99
    assert abs(drive["density"]) < 0.3
    assert any("driven most by ambient" in text for text in group.statements)


def test_least_output_against_the_linear_line(ask) -> None:
    """The rise above ambient of a linear line is proportional to its output: the least follows from one field."""
    one = ask(
        '[[axis]]\nkey = "tracer.T1.output"\nvalues = ["20 W/m"]\n',
        head=HEAD.replace("0.75", "3") + "meshes = 3\n",
    )
    rise = float(one.frame.values["cold"]["contents.min"][0]) - 253.15
    least = 20.0 * (25.0 + 1.0) / rise
    body = (
        '[search]\nkey = "tracer.T1.output"\nname = "output"\nlow = "1 W/m"\nhigh = "40 W/m"\n'
        'within = "0.1 W/m"\nmargin = "1 K"\n'
    )
    computed = ask(body).search
    assert computed is not None
    assert computed.least.number == pytest.approx(least, abs=0.25)
    assert computed.below.number < computed.least.number <= computed.below.number + 0.1 + 1e-9
