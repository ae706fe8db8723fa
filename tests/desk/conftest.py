"""A desk without processes of its own: its jobs run where they are asked for."""

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from sim.desk.folder import Folder
from sim.desk.server import server
from sim.desk.worker import answer

TOKEN, PORT = "a-token-of-the-tests", 8790
HOME = f"http://127.0.0.1:{PORT}"
CASE = """# An invented line.
title = "Small line (invented)"

[pipe]
size = "DN 50" # as ordered
schedule = "40"
material = "carbon steel"

[[tracer]]
name = "T1"
clock = 5 # by the drawing
shape = "flat"
width = "12 mm"
height = "5 mm"
output = "15 W/m"

[insulation]
fit = "snug"

[[insulation.layer]]
conductivity = "0.04 W/m/K"
thickness = "30 mm"

[[sensor]]
name = "S1"
clock = 12

[[condition]]
name = "cold"
ambient = "-10 degC"
wind = "3 m/s"

[[condition]]
name = "warm"
ambient = "20 degC"
tracer.T1.clock = 7

[limits]
contents_min = "5 degC"
"""


class Here:
    """Runs a job in this process."""

    def __init__(self, folder: Folder) -> None:
        from sim.desk.jobs import Bench

        self.bench = Bench(folder)

    async def run(self, do: str, ask: dict[str, Any]) -> AsyncIterator[dict[str, Any]]:
        told: list[dict[str, Any]] = []
        last = answer(self.bench, {"do": do, "ask": ask}, told.append)
        for line in [*told, last]:
            yield line

    async def warm(self) -> None: ...
    async def close(self) -> None: ...


class Browser:
    """Requests to a desk, without a network between."""

    def __init__(self, app: Any) -> None:
        self.app = app

    def request(self, method: str, address: str, **more: Any) -> httpx.Response:
        async def one() -> httpx.Response:
            transport = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(transport=transport, base_url=HOME) as client:
                return await client.request(method, address, **more)

        return asyncio.run(one())

    def get(self, address: str, **more: Any) -> httpx.Response:
        return self.request("GET", address, **more)

    def post(self, address: str, **more: Any) -> httpx.Response:
        return self.request("POST", address, **more)


Ask = Callable[..., dict[str, Any]]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    place = tmp_path / "line"
    place.mkdir()
    (place / "case.toml").write_text(CASE, encoding="utf-8")
    return Folder(place.resolve())


@pytest.fixture
def browser(folder: Folder) -> Browser:
    runner = Here(folder)
    return Browser(server(folder, TOKEN, PORT, runner, runner, "case.toml"))


@pytest.fixture
def ask(browser: Browser) -> Ask:
    """Ask the desk for something; the last line of its answer, with what was told before under "told"."""

    def asked(do: str, *edits: tuple[list[str], str], **more: Any) -> dict[str, Any]:
        body = {"case": "case.toml", "edits": [{"path": path, "text": text} for path, text in edits]}
        reply = browser.post(f"/{TOKEN}/ask/{do}", json=body | more)
        assert reply.status_code == 200, reply.text
        *told, last = map(json.loads, reply.text.splitlines())
        return last | {"told": told}

    return asked
