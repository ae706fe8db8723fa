"""Why design and field differ, and whether anything in a case makes a clock position matter."""

from __future__ import annotations

from sim.case import Case

NO_ASYMMETRY = (
    "The tracers' clock position makes no difference in this condition: the section is the same all round. It would "
    "make one with layered or partly filled contents, a hanging shell, wind or sun from one side, a wet sector, a "
    "support, or at a sensor."
)


def asymmetries(case: Case) -> tuple[str, ...]:
    """What in a case narrowed to one condition breaks the symmetry around the clock, in words; empty if nothing."""
    condition = case.conditions[0]
    causes = []
    if case.insulation.fit == "oversize":
        causes.append("the shell hangs on the pipe's top and gaps at the bottom")
    if any(layer.wet is not None for layer in case.insulation.layers):
        causes.append("the insulation is wet over a sector")
    if 0.0 < case.contents.fill < 1.0 and case.contents.state != "empty":
        causes.append("the bore is partly filled")
    if case.contents.state == "buoyant":
        causes.append(
            "the contents move: heated from below they mix, heated from above the warm part stays on top"
        )
    wind_acts = condition.wind_from is not None and condition.wind > 0 and case.outside.coefficient is None
    if wind_acts:
        causes.append("the wind comes from one side")
    if condition.sun is not None:
        causes.append("the sun shines from one side")
    if condition.sky is not None:
        causes.append("the sky is above")
    if len({t.clock % 12 for t in case.tracers}) > 1:
        causes.append("the tracers' positions relative to each other")
    if case.fittings:
        causes.append("the fittings (in the field around them, not in the section)")
    if case.supports:
        causes.append("the supports (in the field around them, not in the section)")
    if case.elbow is not None:
        causes.append("the elbow (in the bend, not in the straight section)")
    return tuple(causes)


def reasons(case: Case) -> tuple[str, ...]:
    """What the field counts that the simplified method does not, in this case."""
    causes = []
    if case.insulation.fit == "oversize":
        causes.append("an oversize shell hangs off centre, with air around the pipe")
    elif case.insulation.fit == "bridged" and case.tracers:
        causes.append("voids beside the tracers, and a larger outline beneath the insulation")
    if any(layer.wet is not None for layer in case.insulation.layers):
        causes.append("wet insulation")
    if case.tracers:
        causes.append(
            "tracers of finite size and contact, hotter than the pipe and partly losing to the insulation"
        )
        causes.append("one tracer heats one side: the pipe wall is not at one temperature")
    if case.outside.coefficient is None:
        causes.append("local films on the outside (forced, free, radiation) instead of one ISO 12241 film")
    condition = case.conditions[0]
    for key, words in (
        ("sun", "the sun on the outer surface"),
        ("sky", "a sky at a temperature of its own"),
        ("rain", "an outer surface that rain keeps at the ambient temperature"),
    ):
        if getattr(condition, key):
            causes.append(words)
    if case.contents.state == "still":
        causes.append("contents that only conduct")
    elif case.contents.state == "buoyant":
        causes.append("contents that move by natural convection")
    return tuple(causes)
