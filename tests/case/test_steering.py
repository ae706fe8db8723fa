"""Text of the user's on its way to a person."""

import pytest

from sim.case.text import ordered, printable, steers


@pytest.mark.parametrize("bad", ["\x1b", "\x07", "\x9b", "\u202e", "\u2066", "\u2028", "\ud800", "\n"])
def test_what_steers_is_a_blank(bad: str) -> None:
    assert steers(f"a{bad}b")
    assert printable(f"a{bad}{bad}b") == "a b"


@pytest.mark.parametrize(
    "text", ["冷盐水", "شتاء", "עברית", "ठंडी", "e\u0301", "👩\u200d🔧", "a\u00a0b", "°C ± µ"]
)
def test_letters_of_all_languages_are_left_alone(text: str) -> None:
    assert not steers(text)
    assert printable(text) == text


def test_numbers_after_a_name_written_from_right_to_left_keep_their_order() -> None:
    assert ordered("sheath of كابل 44.5 ± 1.4") == "sheath of كابل\u200e 44.5 ± 1.4"
    assert ordered("خط المياه 3") == "خط المياه\u200e 3"  # the words of a name stay together
    assert ordered("كابل    עברית") == "كابل\u200e    עברית\u200e"  # two columns do not change places
    assert ordered(ordered("كابل 1")) == ordered("كابل 1")
    assert ordered("冷 44.5 ± 1.4") == "冷 44.5 ± 1.4"
