"""FiPy through time on a section's own cells, by its own transient term, run as a program of its own.

Steps of FiPy's backward Euler, and the same with each step in two halves: what is given back is extrapolated from both
(Richardson), so that its steps owe ours nothing. See `validation.peers.volumes.field` for what is FiPy's and what ours.
"""

from __future__ import annotations

from itertools import pairwise
from time import process_time
from typing import Any

import numpy as np

from sim.heat.network import Network
from validation.peers.process import Job, ask, serve
from validation.peers.volumes.field import PATIENCE, Array, Sweeps


def march(network: Network, capacity: Array, start: Array, moments: Array, halves: int) -> Array:
    """Temperatures (moments, nodes), K, at moments (m,) s from 0 on, each step in so many parts."""
    ambient = network.case.conditions[0].ambient
    sweeps = Sweeps(network, capacity=capacity)
    sweeps.rise.setValue(start - ambient)
    fields = [start]
    for begin, end in pairwise(moments):
        for _ in range(halves):
            sweeps.settle(float(end - begin) / halves)
        fields.append(ambient + np.asarray(sweeps.rise.value).copy())
    return np.array(fields)


def work(given: dict[str, Any]) -> dict[str, Any]:
    """The fields at the moments, extrapolated, and plain; the largest change that extrapolating made, K; processor
    seconds of the whole steps and of the halves."""
    begin = process_time()
    one = march(**given, halves=1)
    between = process_time()
    two = march(**given, halves=2)
    seconds = (between - begin, process_time() - between)
    return {
        "fields": 2 * two - one,
        "plain": one,
        "change": float(np.abs(two - one).max()),
        "seconds": seconds,
    }


def through_time(
    network: Network, capacity: Array, start: Array, moments: Array, seconds: float = PATIENCE
) -> tuple[Array, float]:
    """`work` in a process of its own. Raises RuntimeError if there is no answer within so many seconds."""
    given = {"network": network, "capacity": capacity, "start": start, "moments": moments}
    reply = ask({"FiPy": Job("validation.peers.volumes.over_time", ("fipy",), given)}, seconds)["FiPy"]
    if reply.answer is None:
        raise RuntimeError(f"FiPy: {reply.failure}")
    return reply.answer["fields"], reply.answer["change"]


if __name__ == "__main__":
    serve(work)
