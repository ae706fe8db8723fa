"""Why design and field differ, and whether anything in a case makes a clock position matter."""

from sim.case import Case

NO_ASYMMETRY = (
    "The tracers' clock position makes no difference in this condition: the section is the same all round. It would "
    "make one with layered or partly filled contents, a hanging shell, wind or sun from one side, a wet sector, a "
    "support, or at a sensor."
)


def asymmetries(case: Case) -> tuple[str, ...]:
    """What in a case narrowed to one condition breaks the symmetry around the clock, in words; empty if nothing."""
    condition, contents = case.conditions[0], case.contents
    wind = condition.wind_from is not None and condition.wind > 0 and case.outside.coefficient is None
    causes = {
        "the shell hangs on the pipe's top and gaps at the bottom": case.insulation.fit == "oversize",
        "the insulation is wet over a sector": any(layer.wet for layer in case.insulation.layers),
        "the bore is partly filled": 0.0 < contents.fill < 1.0 and contents.state != "empty",
        "the contents move: heated from below they mix, heated from above the warm part stays on top": (
            contents.state == "buoyant"
        ),
        "the wind comes from one side": wind,
        "the sun shines from one side": condition.sun,
        "the sky is above": condition.sky,
        "the tracers lie apart, and one that moves changes its distance from the others": len(
            {t.clock % 12 for t in case.tracers}
        )
        > 1,
        "fittings are not the same all round (in the field around them, not in the section)": case.fittings,
        "supports stand on one side (in the field around them, not in the section)": case.supports,
        "the elbow has an inner and an outer side (in the bend, not in the straight section)": case.elbow,
    }
    return tuple(words for words, there in causes.items() if there)


def reasons(case: Case) -> tuple[str, ...]:
    """What the field counts that the simplified method does not, in this case."""
    condition, insulation = case.conditions[0], case.insulation
    causes = {
        "an oversize shell hangs off centre, with air around the pipe": insulation.fit == "oversize",
        "voids beside the tracers, and a larger outline beneath the insulation": (
            insulation.fit == "bridged" and case.tracers
        ),
        "wet insulation": any(layer.wet for layer in insulation.layers),
        "tracers of finite size and contact, hotter than the pipe and partly losing to the insulation": case.tracers,
        "one tracer heats one side: the pipe wall is not at one temperature": case.tracers,
        "local films on the outside (forced, free, radiation) instead of one ISO 12241 film": (
            case.outside.coefficient is None
        ),
        "the sun on the outer surface": condition.sun,
        "a sky at a temperature of its own": condition.sky,
        "an outer surface that rain keeps at the ambient temperature": condition.rain,
        "contents that only conduct": case.contents.state == "still",
        "contents that move by natural convection": case.contents.state == "buoyant",
    }
    return tuple(words for words, there in causes.items() if there)
