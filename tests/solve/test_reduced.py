"""The reduced model of a section against the section's own joints. Every number is invented."""

import numpy as np
from plain_lines import FLAT, STORE, line

from sim.case import case_for, parse_case
from sim.heat.network import network
from sim.solve.reduced import Reduced, conductances, reduced


def model() -> Reduced:
    raw = line(FLAT, outside={}, contents={"state": "empty"})
    raw["insulation"]["layer"][0]["conductivity"] = [["-50 degC", "0.034 W/m/K"], ["100 degC", "0.050 W/m/K"]]
    raw["insulation"] |= {"fit": "bridged", "void": {"filling": "air"}}
    narrowed = case_for(parse_case(raw), "now")
    return reduced(network(narrowed, STORE.get(narrowed, 0.6)), 245.0, 315.0)


def test_a_few_joints_tell_what_all_conduct() -> None:
    """Heat between the nodes in fields as the weather makes them, radiation and an insulation that follows it."""
    made = model()
    joints, law = made.network.joints, made.network.law()
    fall = made.basis[joints.a] - made.basis[joints.b]
    warm = np.linalg.solve(
        made.mean + made.cover.T @ (30.0 * made.area[:, None] * made.cover), made.tracers[0]
    )
    for kelvin in (-30.0, 0.0, 30.0):
        even = np.linalg.lstsq(made.basis, np.full(len(made.basis), kelvin), rcond=None)[0]
        z = even + 15.0 * warm
        conducted = conductances(made.network, law, made.field(z)) * (fall @ z)
        exact = fall.T @ conducted
        off = np.linalg.norm(made.matrix(z) @ z - exact) / np.linalg.norm(exact)
        fixed = np.linalg.norm(made.mean @ z - exact) / np.linalg.norm(exact)
        assert off < 5e-3
        assert off < 0.2 * fixed or fixed < 5e-3
