"""Processes that do the work of a desk: one lane for what is dragged, one for what takes longer."""

import asyncio
import json
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import AsyncIterator
from contextlib import suppress
from typing import Any

from sim.child import command, environment
from sim.desk.folder import Folder

PATIENCE = 2.0
"""Time that a request which is no longer wanted has to end, s; then its process is ended."""
LONGEST_LINE = 64 * 2**20
"""Of an answer, bytes."""
LAST = ("done", "faults", "failed", "stopped")
LOST = {"failed": "the process that computed this ended; ask again"}


async def started(folder: Folder) -> Process:
    """A worker that warms up."""
    return await asyncio.create_subprocess_exec(
        *command("sim.desk.worker", str(folder.path)),
        stdin=PIPE,
        stdout=PIPE,
        stderr=DEVNULL,
        limit=LONGEST_LINE,
        env=environment(),
    )


class Lane:
    """At most so many processes; a request waits for one that is free."""

    def __init__(self, folder: Folder, most: int) -> None:
        self.folder = folder
        self._free = asyncio.Semaphore(most)
        self._idle: list[Process] = []
        self._all: set[Process] = set()

    async def warm(self) -> None:
        """Have a process ready before the first request."""
        self._idle.append(await self._new())

    async def run(self, do: str, ask: dict[str, Any]) -> AsyncIterator[dict[str, Any]]:
        """What a job tells, and its last line. Left early, the job is stopped."""
        async with self._free:
            worker = self._idle.pop() if self._idle else await self._new()
            ended = False
            try:
                async for line in _lines(worker, do, ask):
                    ended = any(key in line for key in LAST)
                    yield line
            finally:
                if not ended:
                    ended = await asyncio.shield(_stopped(worker))
                if ended and worker.returncode is None:
                    self._idle.append(worker)
                else:
                    await _end(worker)
                    self._all.discard(worker)

    async def close(self) -> None:
        """End every process."""
        for worker in list(self._all):
            await _end(worker)
        self._all.clear()
        self._idle.clear()

    async def _new(self) -> Process:
        worker = await started(self.folder)
        self._all.add(worker)
        return worker


async def _lines(worker: Process, do: str, ask: dict[str, Any]) -> AsyncIterator[dict[str, Any]]:
    """The lines of one job; LOST where the process ended on the way."""
    assert worker.stdin is not None
    assert worker.stdout is not None
    with suppress(ConnectionError):
        worker.stdin.write(json.dumps({"do": do, "ask": ask}).encode() + b"\n")
        await worker.stdin.drain()
    while True:
        text = await worker.stdout.readline()
        line = json.loads(text) if text.endswith(b"\n") else LOST
        if line is LOST:
            await _end(worker)
        yield line
        if any(key in line for key in LAST):
            return


async def _stopped(worker: Process) -> bool:
    """Ask a job to stop; whether its process is ready for the next within PATIENCE."""
    if worker.returncode is not None or worker.stdin is None or worker.stdout is None:
        return False
    with suppress(ConnectionError, asyncio.TimeoutError):
        worker.stdin.write(b'{"stop": true}\n')
        async with asyncio.timeout(PATIENCE):
            while text := await worker.stdout.readline():
                if any(key in json.loads(text) for key in LAST):
                    return True
    return False


async def _end(worker: Process) -> None:
    if worker.returncode is None:
        with suppress(ProcessLookupError):
            worker.kill()
        await worker.wait()
