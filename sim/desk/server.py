"""The desk's server: the page's own files, requests handed to the lanes, and the reports that were written."""

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import files
from typing import Any, Protocol

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from sim.case import CaseError
from sim.desk.folder import Folder
from sim.desk.guard import LARGEST_BODY, Guard
from sim.desk.names import QUICK, SLOW, report_name

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


class Runner(Protocol):
    """What answers requests: a lane of processes."""

    def run(self, do: str, ask: dict[str, Any]) -> AsyncIterator[dict[str, Any]]:
        """Lines of an answer; the last is one of done, faults, failed, stopped."""
        ...

    async def warm(self) -> None: ...
    async def close(self) -> None: ...


def server(folder: Folder, token: str, port: int, quick: Runner, slow: Runner, case: str = "") -> Guard:
    """The whole of it, guarded. case: the name of the one that a page opens first, "" for the starter."""
    page = {entry.name: entry for entry in files("sim.desk").joinpath("page").iterdir()}

    async def home(request: Request) -> Response:
        text = page["index.html"].read_text(encoding="utf-8")
        return Response(text.replace("FIRST_CASE", json.dumps(case)[1:-1]), media_type=KINDS[".html"])

    async def asset(request: Request) -> Response:
        name = request.path_params["name"]
        kind = KINDS.get("." + name.rpartition(".")[2])
        if name not in page or kind is None:
            return PlainTextResponse("404: no such file of the page", 404)
        return Response(page[name].read_bytes(), media_type=kind)

    async def ask(request: Request) -> Response:
        do = request.path_params["do"]
        if do not in QUICK | SLOW:
            return PlainTextResponse("404: nothing of this name can be asked", 404)
        body = await _body(request)
        if body is None:
            return PlainTextResponse("400: a request is a JSON object", 400)
        lines = _lines((slow if do in SLOW else quick).run(do, body))
        return StreamingResponse(lines, media_type="application/x-ndjson")

    async def report(request: Request) -> Response:
        try:
            name = report_name(folder.file(request.path_params["case"] + ".toml").name)
        except CaseError:
            return PlainTextResponse("404: no such report", 404)
        path = folder.path / name / "report.html"
        if path.resolve() != path or not path.is_file():
            return PlainTextResponse("404: no such report", 404)
        return FileResponse(path, media_type=KINDS[".html"])

    async def bare(request: Request) -> Response:
        return RedirectResponse(f"/{token}/")

    @asynccontextmanager
    async def alive(app: Starlette) -> AsyncIterator[None]:
        await (
            quick.warm()
        )  # the other lane begins with its first request: two at once would take the page's own time
        yield
        await asyncio.gather(quick.close(), slow.close())

    routes = [
        Route("/", home),
        Route("/page/{name}", asset),
        Route("/ask/{do}", ask, methods=["POST"]),
        Route("/report/{case}", report),
    ]
    return Guard(Starlette(routes=routes, lifespan=alive), token, port)


async def _body(request: Request) -> dict[str, Any] | None:
    """The JSON object of a request, of no more than LARGEST_BODY; None where it is anything else."""
    if not request.headers.get("content-type", "").startswith("application/json"):
        return None
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > LARGEST_BODY:
            return None
        parts.append(part)
    try:
        body = json.loads(b"".join(parts))
    except (ValueError, RecursionError):
        return None
    return body if isinstance(body, dict) else None


async def _lines(answer: AsyncIterator[dict[str, Any]]) -> AsyncIterator[bytes]:
    """The lines of an answer as bytes; a page that goes away stops the job.

    The job is read by a task of its own, so that it is cancelled once, and may end in order.
    """
    lines: asyncio.Queue[dict[str, Any] | None] = asyncio.Queue()

    async def read() -> None:
        try:
            async for line in answer:
                lines.put_nowait(line)
        finally:
            lines.put_nowait(None)

    reader = asyncio.create_task(read())
    try:
        while (line := await lines.get()) is not None:
            yield json.dumps(line).encode() + b"\n"
        await reader
    finally:
        reader.cancel()
