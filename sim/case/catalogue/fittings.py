"""Bodies of fittings by family, nominal size and class, where a case gives none of its own.

Flanges are those of ASME B16.5 as `flanges` has them, faces of valves are ASME B16.10 from memory, and all else are
proportions of the pipe's outer diameter from memory: they stand for a shape, not for a make. Bolts are left out.
"""

from typing import Any

from . import flanges

SOURCE = (
    "flanges ASME B16.5 as tabled; valves' face to face ASME B16.10, from memory; proportions from memory"
)
# {class: {NPS: face to face in mm}}, raised face, from memory of ASME B16.10
SMALL = {1.0: 127.0, 1.25: 140.0, 1.5: 165.0}  # of class 150, alike in all
GATE = {
    "150": SMALL
    | {2.0: 178.0, 2.5: 190.0, 3.0: 203.0, 4.0: 229.0, 6.0: 267.0, 8.0: 292.0, 10.0: 330.0, 12.0: 356.0},
    "300": {1.25: 178.0, 1.5: 190.0, 2.0: 216.0, 2.5: 241.0, 3.0: 283.0, 4.0: 305.0, 6.0: 403.0},
}
GLOBE = {
    "150": SMALL
    | {2.0: 203.0, 2.5: 216.0, 3.0: 241.0, 4.0: 292.0, 6.0: 406.0, 8.0: 495.0, 10.0: 622.0, 12.0: 698.0},
    "300": {1.25: 216.0, 1.5: 229.0, 2.0: 267.0, 2.5: 292.0, 3.0: 318.0, 4.0: 356.0, 6.0: 444.0},
}
BALL = {
    "150": SMALL
    | {2.0: 178.0, 2.5: 190.0, 3.0: 203.0, 4.0: 229.0, 6.0: 394.0, 8.0: 457.0, 10.0: 533.0, 12.0: 610.0},
    "300": GATE["300"],
}
FLANGE = "diameter and thickness ASME B16.5, as tabled"
FACE = "length face to face ASME B16.10, from memory; diameter a proportion of the pipe's, from memory"
BY_PIPE = "proportions of the pipe's outer diameter, from memory"
FACES = {"gate_valve": GATE, "globe_valve": GLOBE, "ball_valve": BALL, "strainer": GLOBE, "pump": GLOBE}
Part = dict[str, Any]


def bodies(family: str, nps: float | None, outer: float, bore: float, rating: str) -> list[Part] | str:
    """Bodies of a family about a pipe of an outer diameter and a bore, m, as a case gives them; or what is missing."""
    if family in ("branch", "stub"):
        return _branch(outer, bore) if family == "branch" else _stub(outer)
    flange = flanges.flange(nps, rating) if nps is not None else None
    if flange is None:
        return (
            f"has no sizes for this pipe; accepted: {flanges.sizes_in_words(rating)}, or bodies of your own"
        )
    wide, thick = flange
    if family == "flange_pair":
        return [_along(wide, -thick, thick)]
    half = FACES[family][rating][nps or 0.0] / 2e3
    pair = _along(wide, half - thick, half + thick)
    if family == "gate_valve":
        return [
            _along(1.5 * outer, -half, half),
            pair,
            *_bonnet(12.0, 0.9 * outer, 1.4 * outer, outer, 2.2 * outer),
        ]
    if family == "globe_valve":
        return [
            _along(1.7 * outer, -half, half),
            pair,
            *_bonnet(12.0, outer, 1.5 * outer, 1.1 * outer, 2.0 * outer),
        ]
    if family == "ball_valve":
        return [_along(1.7 * outer, -half, half), pair, _across(12.0, 0.35 * outer, 1.5 * outer)]
    if family == "strainer":
        basket = _across(6.0, 1.1 * outer, 1.7 * outer, _hollow(0.9 * outer, 1.5 * outer))
        return [_along(1.4 * outer, -half, half), pair, basket]
    casing = _across(9.0, 2.2 * outer, 1.1 * outer)
    return [_along(1.5 * outer, -half, half), pair, casing, _across(6.0, 0.4 * outer, 2.5 * outer)]


def sources(family: str, count: int) -> list[str]:
    """Where the default lengths of each of a family's bodies are from, in the order of `bodies`."""
    if family in ("branch", "stub"):
        return [BY_PIPE] * count
    if family == "flange_pair":
        return [FLANGE] * count
    loaned = " (a globe valve's)" if family in ("strainer", "pump") else ""
    first = FACE.replace(",", f"{loaned},", 1)
    return [first, f"{FLANGE}; places by the length face to face", *[BY_PIPE] * (count - 2)]


def _bonnet(clock: float, neck: float, wide: float, start: float, to: float) -> list[Part]:
    """A neck with a flange on it, and what stands on that."""
    return [_across(clock, neck, to), _across(clock, wide, start + 0.3 * neck, start=start)]


def _branch(outer: float, bore: float) -> list[Part]:
    run = _along(1.25 * outer, -0.95 * outer, 0.95 * outer)
    return [run, _across(12.0, outer, 3.0 * outer, _hollow(bore, 2.9 * outer))]


def _stub(outer: float) -> list[Part]:
    wide = max(0.25 * outer, 21.3e-3)
    return [_across(12.0, wide, outer / 2 + 0.150, _hollow(0.75 * wide, outer / 2 + 0.140))]


def _mm(length: float) -> str:
    return f"{1e3 * length:.4g} mm"


def _along(diameter: float, low: float, high: float) -> Part:
    return {"axis": "along", "diameter": _mm(diameter), "from": _mm(low), "to": _mm(high)}


def _across(clock: float, diameter: float, to: float, hollow: Part | None = None, start: float = 0.0) -> Part:
    body = {"axis": "across", "clock": clock, "diameter": _mm(diameter), "from": _mm(start), "to": _mm(to)}
    return body if hollow is None else body | {"hollow": hollow}


def _hollow(diameter: float, to: float) -> Part:
    return {"diameter": _mm(diameter), "to": _mm(to)}
