"""The elbow of a case: its radius in metres or by the nominal size, and what is refused."""

from typing import Any

import pytest
from support_lines import line

from sim.case import CaseError, parse_case, resolved
from sim.case.line import bend_radius


def with_elbow(elbow: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {key: value for key, value in line().items() if key != "support"} | {"elbow": elbow} | more


@pytest.mark.parametrize(
    ("given", "metres"), [("1.5 D", 0.1524), ("3D", 0.3048), ("0.2 m", 0.2), ("12 in", 0.3048)]
)
def test_a_radius_is_a_length_or_a_multiple_of_the_nominal_inches(given: str, metres: float) -> None:
    case = parse_case(with_elbow({"radius": given}))
    assert case.elbow is not None
    assert bend_radius(case.pipe, case.elbow) == pytest.approx(metres, rel=1e-12)
    again = parse_case(resolved(case))
    assert again == case


FREE = {"pipe": {"outer_diameter": "100 mm", "wall": "4 mm", "material": "copper"}}
NAMED = {"support": [{"name": "Elbow", "family": "shoe"}]}


@pytest.mark.parametrize(
    ("elbow", "more", "key", "words"),
    [
        ({"radius": "1 D"}, {}, "elbow.radius", "reaches 107.1 mm"),
        ({"radius": "100 mm"}, {}, "elbow.radius", "more than 107.1 mm"),
        ({"radius": "long"}, {}, "elbow.radius", "multiple of the nominal size"),
        ({"radius": "0.2 D"}, {}, "elbow.radius", "0.5 D to 100 D"),
        ({"outside": 13}, {}, "elbow.outside", "0 to 12"),
        ({"angle": "90 deg"}, {}, "elbow.angle", "unknown key"),
        ({"radius": "1.5 D"}, FREE, "elbow.radius", "the pipe has none"),
        ({"radius": "3 D"}, NAMED, 'support[1] "Elbow".name', "another name"),
    ],
)
def test_what_does_not_fit_is_refused(
    elbow: dict[str, Any], more: dict[str, Any], key: str, words: str
) -> None:
    with pytest.raises(CaseError) as raised:
        parse_case(with_elbow(elbow, **more))
    assert raised.value.key == key
    assert words in str(raised.value)


def test_a_shell_that_hangs_towards_the_centre_reaches_further() -> None:
    shell = {
        "fit": "oversize",
        "bore": "150 mm",
        "layer": [{"conductivity": "0.04 W/m/K", "thickness": "50 mm"}],
    }
    radius = {"radius": "135 mm"}  # the shell's outside is at 125 mm, and hangs 18 mm lower
    parse_case(with_elbow(radius | {"outside": 6}, insulation=shell))
    with pytest.raises(CaseError, match="reaches 14"):
        parse_case(with_elbow(radius | {"outside": 12}, insulation=shell))
