"""What a flow that is followed can go on from after its run was stopped: one file, replaced as a whole."""

import os
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from sim.section.shapes import Array
from sim.solve.followed import Following
from sim.solve.motion import State

PARTS = ("temperature", "vorticity", "psi")


@dataclass(frozen=True)
class Chunk:
    """Means over a stretch of time: length D2 / a0; temperature (nodes,) K; psi, vorticity (n,); step, low, high (k,):
    length of each step, coldest and hottest of the flow's rim after it, K. end: the flow at its end."""

    length: float
    temperature: Array
    psi: Array
    vorticity: Array
    step: Array
    low: Array
    high: Array
    end: State


@dataclass
class Progress:
    """How far a flow was followed: its chunks, rounds, corrections of the heat that is left over, the chunk after the
    last of them, the rounds at which its band is looked at next; finished: there is nothing more to follow."""

    look: float
    chunks: list[Chunk] = field(default_factory=list)
    rounds: float = 0.0
    settled: int = 0
    first: int = 0
    finished: bool = False


def save(file: Path, flow: Following, so_far: Progress) -> None:
    """Write all that `restore` needs."""
    content: dict[str, Any] = {
        "flow": np.array([flow.time, flow.steps, flow.length]),
        "progress": np.array(
            [so_far.look, so_far.rounds, so_far.settled, so_far.first, float(so_far.finished)]
        ),
        "referred": flow.referred,
        "steps": np.array([len(c.step) for c in so_far.chunks]),
    }
    if flow.carried is not None:
        content["carried_heat"], content["carried_vorticity"] = flow.carried
    for part in PARTS:
        for name, state in (("now", flow.state), ("before", flow.before)):
            content[f"{name}_{part}"] = getattr(state, part)
        content[f"mean_{part}"] = np.array([getattr(c, part) for c in so_far.chunks])
        content[f"end_{part}"] = np.array([getattr(c.end, part) for c in so_far.chunks])
    for name in ("step", "low", "high"):
        content[name] = np.concatenate([getattr(c, name) for c in so_far.chunks] or [np.zeros(0)])
    file.parent.mkdir(parents=True, exist_ok=True)
    new = file.with_suffix(".part")
    with new.open("wb") as out:
        np.savez(out, **content)
    os.replace(new, file)


def restore(file: Path, flow: Following) -> Progress | None:
    """Set a flow that is about to begin to where it was, and say how far it had come; None where nothing is kept."""
    try:
        with np.load(file, allow_pickle=False) as kept:
            content = {name: kept[name] for name in kept.files}
    except (OSError, ValueError, zipfile.BadZipFile):
        return None
    flow.time, flow.length = float(content["flow"][0]), float(content["flow"][2])
    flow.steps = int(content["flow"][1])
    flow.state, flow.before = (
        State(*(content[f"{name}_{part}"] for part in PARTS)) for name in ("now", "before")
    )
    if "carried_heat" in content:
        flow.carried = content["carried_heat"], content["carried_vorticity"]
    flow.refer(content["referred"])
    cut = np.cumsum(content["steps"])[:-1]
    ends = zip(*(np.split(content[name], cut) for name in ("step", "low", "high")), strict=True)
    look, rounds, settled, first, finished = content["progress"]
    chunks = [
        Chunk(
            float(step.sum()),
            content["mean_temperature"][n],
            content["mean_psi"][n],
            content["mean_vorticity"][n],
            step,
            low,
            high,
            State(*(content[f"end_{part}"][n] for part in PARTS)),
        )
        for n, (step, low, high) in enumerate(ends)
    ]
    return Progress(float(look), chunks, float(rounds), int(settled), int(first), bool(finished))
