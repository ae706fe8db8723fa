"""The processes of a desk: they answer in turn, stop when nobody waits, and are replaced when they end."""

import asyncio
import os
import signal
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from sim.desk.folder import Folder
from sim.desk.lanes import Lane

pytestmark = pytest.mark.slow
ASK = {"case": "case.toml", "edits": [], "fineness": 3}


def with_lane(folder: Folder, work: Callable[[Lane], Awaitable[None]]) -> None:
    async def run() -> None:
        lane = Lane(folder, 1)
        try:
            await work(lane)
        finally:
            await lane.close()

    asyncio.run(run())


async def every(lane: Lane, do: str, ask: dict[str, Any]) -> list[dict[str, Any]]:
    return [line async for line in lane.run(do, ask)]


def processes(lane: Lane) -> list[int]:
    return [process.pid for process in lane._all]


def test_a_process_answers_one_request_after_the_other(folder: Folder) -> None:
    async def work(lane: Lane) -> None:
        await lane.warm()
        before = processes(lane)
        first, wrong, last = await asyncio.gather(
            every(lane, "open", ASK), every(lane, "open", ASK | {"case": "../x"}), every(lane, "move", ASK)
        )
        assert first[-1]["done"]["title"] == "Small line (invented)"
        assert wrong[-1]["faults"]
        assert last[-1]["done"]["picture"]["cells"]
        assert processes(lane) == before

    with_lane(folder, work)


def test_a_request_nobody_waits_for_is_stopped_and_its_process_kept(folder: Folder) -> None:
    async def work(lane: Lane) -> None:
        await every(lane, "open", ASK)
        before = processes(lane)

        async def started() -> None:
            async for _ in lane.run("answer", ASK | {"fineness": 2}):
                await asyncio.sleep(0)

        task = asyncio.create_task(started())
        await asyncio.sleep(0.05)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        assert (await every(lane, "open", ASK))[-1]["done"]["case"] == "case.toml"
        assert len(processes(lane)) == len(before) == 1

    with_lane(folder, work)


def test_a_process_that_ends_is_told_and_replaced(folder: Folder) -> None:
    async def work(lane: Lane) -> None:
        await every(lane, "open", ASK)
        (pid,) = processes(lane)
        os.kill(pid, signal.SIGSTOP)
        asking = asyncio.create_task(every(lane, "answer", ASK))
        await asyncio.sleep(0.1)
        os.kill(pid, signal.SIGKILL)
        assert "ask again" in (await asking)[-1]["failed"]
        assert (await every(lane, "open", ASK))[-1]["done"]
        assert processes(lane) != [pid]

    with_lane(folder, work)
