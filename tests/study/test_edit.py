"""Changes to a case: every kind of key, relative changes of numbers, tables and outputs."""

import pytest
from study_line import HEAD, LINE

from sim.case import CaseError, case_for, parse_case
from sim.study.edit import Relative, edited, path_of, spread_clocks
from sim.study.variants import load_study, variants


def raw() -> dict:
    return {
        "pipe": {"size": "DN 50", "schedule": "40", "material": "carbon steel"},
        "tracer": [
            {"name": n, "clock": c, "shape": "flat", "width": "9 mm", "height": "4 mm", "output": "20 W/m"}
            for n, c in (("T1", 4.0), ("up.per", 10.0))
        ],
        "insulation": {"layer": [{"material": "rock wool", "thickness": "40 mm"}]},
        "condition": [
            {"name": "cold", "ambient": "-20 degC"},
            {"name": "warm", "ambient": "20 degC", "wind": "2 m/s"},
        ],
    }


def case(*changes):
    return parse_case(edited(raw(), [(path_of(key), value) for key, value in changes]))


def test_names_with_full_stops_and_stars() -> None:
    assert path_of('tracer."up.per".clock') == ("tracer", "up.per", "clock")
    assert path_of("tracer.*.clock") == ("tracer", "*", "clock")
    assert case(('tracer."up.per".clock', 9.0)).tracers[1].clock == 9.0
    assert [t.tolerance for t in case(("tracer.*.tolerance", 0.1)).tracers] == [0.1, 0.1]


def test_conditions_by_name_and_all() -> None:
    changed = case(("condition.*.wind", "9 m/s"), ("condition.cold.supply", 0.9))
    assert [c.wind for c in changed.conditions] == [9.0, 9.0]
    assert [c.supply for c in changed.conditions] == [0.9, 1.0]
    assert case_for(case(("condition.cold.contents.fill", 0.5)), "cold").contents.fill == 0.5


def test_factor_of_a_table_of_the_catalogue_and_of_an_output() -> None:
    plain, scaled = (
        case(),
        case(("insulation.layer.1.conductivity", Relative(1.25)), ("tracer.*.output", Relative(0.5))),
    )
    for kelvin in (250.0, 300.0, 420.0):
        before = plain.insulation.layers[0].conductivity(kelvin)
        assert scaled.insulation.layers[0].conductivity(kelvin) == pytest.approx(1.25 * before, rel=1e-12)
    assert [t.output.watts(280.0, 0.8) for t in scaled.tracers] == [10.0, 10.0]


def test_shift_acts_on_what_another_change_has_set() -> None:
    shifted = case(("condition.cold.ambient", Relative(shift=-5.0)), ("condition.cold.ambient", "-30 degC"))
    assert shifted.conditions[0].ambient == pytest.approx(238.15)
    assert case(("tracer.T1.clock", Relative(shift=9.0))).tracers[0].clock == pytest.approx(1.0)


def test_shift_of_a_polynomial_and_of_an_output_moves_every_value_alike() -> None:
    law = {"polynomial": [0.035, 2e-4], "range": ["-50 degC", "150 degC"]}
    plain = case(("insulation.layer.1.conductivity", law)).insulation.layers[0]
    moved = case(
        ("insulation.layer.1.conductivity", law), ("insulation.layer.1.conductivity", Relative(shift=0.01))
    ).insulation.layers[0]
    for kelvin in (230.0, 273.15, 350.0):
        assert moved.conductivity(kelvin) - plain.conductivity(kelvin) == pytest.approx(0.01, rel=1e-9)
    shifted = case(
        ("tracer.*.output", Relative(shift=3.0)), ("insulation.layer.1.thickness", Relative(shift=5e-3))
    )
    assert [t.output.watts(280.0) for t in shifted.tracers] == [23.0, 23.0]
    assert shifted.insulation.layers[0].thickness == pytest.approx(0.045)


def test_a_shift_is_in_the_axis_own_unit(write) -> None:
    body = '[[axis]]\nkey = "insulation.layer.1.thickness"\nas = "shift"\nvalues = ["-10 mm", "5 mm"]\n'
    study = load_study(write(body))
    values = [
        parse_case(edited(study.base.raw, v.changes)).insulation.layers[0].thickness for v in variants(study)
    ]
    assert values == pytest.approx([0.020, 0.035])


def test_number_of_tracers() -> None:
    assert spread_clocks(1) == [6.0]
    assert spread_clocks(2) == [3.0, 9.0]
    assert spread_clocks(3) == [2.0, 6.0, 10.0]
    changed = case(("tracer.*.tolerance", 0.2), ("tracer.count", [2.0, 6.0, 10.0]))
    assert [(t.name, t.clock, t.tolerance) for t in changed.tracers] == [
        ("T1", 2.0, 0.2),
        ("T2", 6.0, 0.2),
        ("T3", 10.0, 0.2),
    ]


def test_nothing_to_scale_is_said() -> None:
    with pytest.raises(CaseError, match="no number of its own"):
        case(("pipe.material", Relative(2.0)))


def test_crossed_and_paired_axes(write) -> None:
    crossed = (
        '[[axis]]\nkey = "tracer.T1.clock"\nvalues = [3, 6]\n'
        '[[axis]]\nkey = "condition.*.wind"\nfrom = "0 m/s"\nto = "4 m/s"\nstep = "2 m/s"\n'
    )
    listed = list(variants(load_study(write(crossed))))
    assert [tuple(v.texts.values()) for v in listed][:3] == [("3", "0 m/s"), ("3", "2 m/s"), ("3", "4 m/s")]
    assert len({v.key for v in listed}) == 6
    paired = crossed.replace("[3, 6]", '[3, 6, 9]\npair = "p"').replace(
        'step = "2 m/s"', 'step = "2 m/s"\npair = "p"'
    )
    assert [tuple(v.texts.values()) for v in variants(load_study(write(paired)))] == [
        ("3", "0 m/s"),
        ("6", "2 m/s"),
        ("9", "4 m/s"),
    ]


def test_the_key_follows_case_change_and_mesh_but_not_title_or_design(write) -> None:
    axis = '[[axis]]\nkey = "tracer.T1.clock"\nvalues = [3]\n'

    def key(**given) -> str:
        return next(iter(variants(load_study(write(given.pop("body", axis), **given))))).key

    first = key()
    assert key(line=LINE.replace("small line", "another title")) == first
    assert key(line=LINE + '[design]\nmaintain = "10 degC"\n') == first
    others = {
        key(line=LINE.replace("0.04", "0.05")),
        key(head=HEAD.replace("0.75", "0.8")),
        key(head=HEAD + "meshes = 3\n"),
        key(head=HEAD + 'conditions = ["cold"]\n'),
        key(body=axis.replace("[3]", "[4]")),
    }
    assert first not in others
    assert len(others) == 5


@pytest.mark.parametrize("count", [2.5, 0, 13, "two", True, []])
def test_a_number_of_tracers_that_is_none_is_refused(write, count) -> None:
    written = str(count).lower() if isinstance(count, bool) else repr(count).replace("'", '"')
    body = f'[[axis]]\nname = "tracers"\n[[axis.choice]]\nname = "a"\nset = {{ tracer.count = {written} }}\n'
    with pytest.raises(CaseError, match="tracer"):
        load_study(write(body))
