"""An episode with ice around a support: the far end is the line's own section, the support freezes first."""

import numpy as np
import pytest

from sim.case import case_for, parse_case
from sim.solve.around import recorder, stretch
from sim.solve.episode import follow, standard_record
from sim.solve.multigrid import MEMORY_LIMIT
from sim.solve.stiff import State
from sim.solve.transient import Line
from tests.support_lines import line


@pytest.mark.slow
@pytest.mark.parametrize("state", ["still", "mixed"])
def test_ice_around_a_shoe(state: str) -> None:
    """Frozen in part and thawed again; far from the shoe the ice is that of the section, and the heat closes."""
    episode = {
        "name": "cut",
        "condition": "a",
        "start": "1 degC",
        "lasts": "30 h",
        "change": [
            {"at": "0 h", "supply": 0, "ambient": "-30 degC"},
            {"at": "14 h", "supply": 1, "ambient": "8 degC"},
        ],
    }
    keys = {"contents": {"fluid": "water", "state": state}, "episode": [episode]}
    case = parse_case(line(**keys))
    narrowed, support = case_for(case, "a"), case.supports[0]
    net, _ = stretch(narrowed, support, 0.3, MEMORY_LIMIT)
    record, layers = recorder(net), net.layers.count
    layer = np.repeat(np.arange(layers), net.plan.nodes)

    def each(line: Line, at: State) -> dict[str, float]:
        share = line.store.frozen(at.enthalpy, at.temperature)
        parts = line.frozen_in(share, layer, layers)
        return record(line, at) | {"near": float(parts[0]), "far": float(parts[-1])}

    track = follow(net, case.episodes[0], (), np.full(net.nodes, 274.15), 0.1, each)
    alone = follow(net.plan, case.episodes[0], (), np.full(net.plan.nodes, 274.15), 0.1, standard_record)
    moments = np.linspace(2.0, 14.0, 7) * 3600
    far = np.interp(moments, track.time, track.values["far"])
    near = np.interp(moments, track.time, track.values["near"])
    assert far == pytest.approx(np.interp(moments, alone.time, alone.values["frozen"]), abs=4e-3)
    assert (near[1:] > far[1:] + 0.01).all()
    assert max(track.values["frozen"]) > 0.2
    assert track.values["frozen"][-1] < 0.5 * max(track.values["frozen"])
    assert abs(track.closure) < 1e-8
