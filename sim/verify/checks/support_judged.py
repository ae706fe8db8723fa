"""The whole command's way for a support, `sim.judge.check`, against the axial fin: temperatures, margins, allowance."""

from __future__ import annotations

import numpy as np

from sim.case import parse_case
from sim.judge.check import check
from sim.judge.support import common_practice
from sim.verify.checks.stretch import Table, line
from sim.verify.checks.support_fins import LENGTH, OUTPUT, SOURCE, WHY, fall, rings_every, traced_raw
from sim.verify.rows import Row

KELVIN, AMBIENT = 273.15, -10.0
LIMITS = {"wall_min": 20.0, "contents_min": 5.0, "sheath_max": 90.0}
FINENESS = 1.0


def judged() -> list[Row]:
    """Two rings on one line, one with too little extra tracer and one with more than enough."""
    table = Table("a support judged: ring on a traced pipe", SOURCE, [])
    little, much = 1.0, 4.5
    raw = traced_raw({"spacing": "2 m", "allowance": f"{little} m"})
    raw["support"] = [raw["support"][0], raw["support"][0] | {"name": "S2", "allowance": f"{much} m"}]
    raw["condition"] = [{"name": "a", "ambient": f"{AMBIENT} degC"}]
    raw["limits"] = {name: f"{value} degC" for name, value in LIMITS.items()}
    answer = check(parse_case(raw), fineness=FINENESS)
    z = np.linspace(0.0, 1.0, 2001)
    alone = rings_every(2.0, 0.0)
    own = AMBIENT + alone.given[-1] / alone.loss[-1]
    enough = LENGTH * (alone.loss[0] / alone.loss[-1] - 1)
    for found, allowance in zip(answer.supports, (little, much), strict=True):
        assert found.result is not None
        q = found.result.quantities
        fin = rings_every(2.0, allowance)
        name = f"allowance {allowance:g} m"
        cold = own - fall(alone, z).max()
        table.within(
            f"coldest wall, tracer alone, {name}",
            cold,
            q["wall_min"].value - KELVIN,
            0.8,
            f"2 % of the dip: {WHY}",
            "degC",
        )
        rise = AMBIENT + fin(z)
        exact = {
            "wall_min": rise.min() - LIMITS["wall_min"],
            "contents_min": rise.min() - LIMITS["contents_min"],
            "sheath_max": LIMITS["sheath_max"] - rise.max(),
        }
        assert {held.limit for held in found.limits} == exact.keys()
        for held in found.limits:
            table.within(
                f"margin to {held.limit}, {name}",
                exact[held.limit],
                held.margin,
                1.2,
                f"3 % of the dip: {WHY}",
                "K",
            )
        table.within(
            f"allowance falls short (1) or is enough (0), {name}",
            float(allowance < enough),
            float(found.allowance_verdict == "fail"),
            0.0,
            "a verdict",
            "-",
        )
        table.row(
            f"allowance that restores the wall, {name}", enough, q["allowance_enough"].value, 0.03, WHY, "m"
        )
    return table.found


def rule() -> list[Row]:
    """The trade's rule of thumb beside the field: twice the support's length and 0.4 m; nothing for an insulated one."""
    table = Table("allowance of the rule of thumb", "common practice, no source", [])
    leg, insert = {"length": "150 mm"}, {"length": "300 mm"}
    for name, support, exact in (
        ("leg of 150 mm", {"leg": leg}, 0.7),
        ("insulated support", {"insert": insert}, 0.0),
    ):
        found = common_practice(line(50.0, support).supports[0])
        table.within(name, exact, float("nan") if found is None else found, 1e-9, "a formula", "m")
    return table.found


def rows() -> list[Row]:
    """All of them."""
    return [*judged(), *rule()]
