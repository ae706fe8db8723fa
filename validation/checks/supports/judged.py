"""The whole command's way for a support, `sim.judge.check`, against the axial fin: temperatures, margins, allowance."""

import numpy as np

from sim.case import parse_case
from sim.judge.check import check
from sim.judge.support import common_practice
from validation.checks.supports.fins import LENGTH, SOURCE, WHY, fall, rings_every, traced_raw
from validation.published.rows import Row, Table
from validation.sketches.stretch import line

KELVIN, AMBIENT = 273.15, -10.0
LIMITS = {"wall_min": 20.0, "contents_min": 5.0, "sheath_max": 90.0}
FINENESS = 1.0


def judged() -> list[Row]:
    """A ring with too little extra tracer: what it does, and by how much the limits are kept."""
    table = Table("a support judged: ring on a traced pipe", SOURCE, [])
    allowance = 1.0
    raw = traced_raw({"spacing": "2 m", "allowance": f"{allowance} m"})
    raw["condition"] = [{"name": "a", "ambient": f"{AMBIENT} degC"}]
    raw["limits"] = {name: f"{value} degC" for name, value in LIMITS.items()}
    answer = check(parse_case(raw), fineness=FINENESS)
    z = np.linspace(0.0, 1.0, 2001)
    alone = rings_every(2.0, 0.0)
    own = AMBIENT + alone.given[-1] / alone.loss[-1]
    enough = LENGTH * (alone.loss[0] / alone.loss[-1] - 1)
    fin, judged_support = rings_every(2.0, allowance), answer.supports[0]
    assert judged_support.result is not None
    q = judged_support.result.quantities
    cold = own - fall(alone, z).max()
    why = f"2 % of the dip: {WHY}"
    table.within("coldest wall, tracer alone", cold, q["wall_min"].value - KELVIN, 0.8, why, "degC")
    rise = AMBIENT + fin(z)
    exact = {
        "wall_min": rise.min() - LIMITS["wall_min"],
        "contents_min": rise.min() - LIMITS["contents_min"],
        "sheath_max": LIMITS["sheath_max"] - rise.max(),
    }
    assert {one.limit for one in judged_support.limits} == exact.keys()
    for one in judged_support.limits:
        table.within(f"margin to {one.limit}", exact[one.limit], one.margin, 0.8, why, "K")
    chi = LENGTH * (alone.loss[0] - alone.loss[-1])
    table.row("chi, with the air at -10 degC", chi, q["chi"].value, 0.015, "the mesh", "W/K")
    short = "the allowance falls short of what restores the wall (1: it does)"
    failed = float(judged_support.allowance_verdict == "fail")
    table.within(short, float(allowance < enough), failed, 0.0, "a verdict", "-")
    restores = q["allowance_enough"].value
    table.row("allowance that restores the wall", enough, restores, 0.02, WHY, "m")
    return table.rows


def rule() -> list[Row]:
    """The rule of thumb beside the field: twice the support's length and 0.4 m; none for an insulated one."""
    table = Table("allowance of the rule of thumb", "common practice, no source", [])
    leg, insert = {"length": "150 mm"}, {"length": "300 mm"}
    for name, support, exact in (
        ("leg of 150 mm", {"leg": leg}, 0.7),
        ("insulated support", {"insert": insert}, 0.0),
    ):
        computed = common_practice(line(50.0, support).supports[0])
        table.within(name, exact, float("nan") if computed is None else computed, 1e-9, "a formula", "m")
    return table.rows


GROUPS = (judged, rule)
