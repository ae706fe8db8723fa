"""An episode as the page shows it: its limits and answers, its curves over time, its fields for the slider."""

from typing import Any

import numpy as np

from sim.desk.picture import packed, sizes, stills
from sim.judge.episode_answers import EpisodeAnswer
from sim.report.episode_page import episode_scene, episode_section

MOST_POINTS = 600
"""Of a curve: more than the page has dots for."""


def shown_episode(answer: EpisodeAnswer) -> dict[str, Any]:
    """The whole of an episode; one that did not converge has its failure and nothing else."""
    section = episode_section(answer, {})
    shown: dict[str, Any] = {
        key: section[key] for key in ("name", "verdict", "failure", "where", "notes", "answers", "limits")
    }
    if answer.result is None:
        return shown
    scene = episode_scene(answer)
    every = max(1, -(-len(scene.hour) // MOST_POINTS))
    shown_moments = np.unique(np.append(np.arange(0, len(scene.hour), every), len(scene.hour) - 1))
    shown |= {
        "hour": np.round(scene.hour[shown_moments], 5).tolist(),
        "curves": [
            {
                "words": c.words,
                "kind": c.kind,
                "value": [round(float(v), 3) if np.isfinite(v) else None for v in c.value[shown_moments]],
            }
            for c in scene.curves
        ],
        "marks": [{"words": words, "value": value} for words, value in scene.limits],
        "events": [{"hour": hour, "words": words} for hour, words in scene.events],
        "moments": [float(still.hour) for still in scene.stills],
    }
    if scene.stills:
        shown["field"] = stills(scene.point, [still.value for still in scene.stills])
        shown["frozen"] = [packed(still.frozen) if still.frozen.any() else "" for still in scene.stills]
        shown["rings"] = [float(1e3 * still.ring) for still in scene.stills]
        shown["lines"] = [packed(1e3 * line) for line in scene.lines]
        shown["outline"] = sizes(scene.outline)
    return shown
