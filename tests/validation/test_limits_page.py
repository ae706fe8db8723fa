"""The page on the model's limits: it renders with the program's own constants, and its sums are right."""

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from sim.heat import air, bore, wind
from validation.limits import __main__ as page
from validation.limits import measured
from validation.limits.supports import SupportEffect


def test_page_renders_every_effect() -> None:
    environment = Environment(loader=FileSystemLoader(page.HERE), undefined=StrictUndefined, autoescape=False)
    names = ("brine_hours", "small_hours", "body_hotter", "body_output")
    text = environment.get_template("limits.md.jinja").render(
        version="x",
        effects=[measured.Effect("a gap", "opened", "a line", -1.25, float("nan"), 0.031)],
        supports=[SupportEffect("a leg", "held", (1.0, 2.0), (3.0, 4.0))],
        derived=dict.fromkeys(names, 1.0),
        largest="none",
        kelvin=page.kelvin,
        part=page.part,
        air=air,
        bore=bore,
        profile=wind.PROFILE_REYNOLDS,
        quiet=1e3,
        verified=1e8,
        matters=0.02,
    )
    assert "| a gap | opened | a line | -1.25 K | – | +3.1 % |" in text
    assert "| a leg | held | 1.0 → 2.0 | 3.00 → 4.00 |" in text
