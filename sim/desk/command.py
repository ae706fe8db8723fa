"""The command `coldspot desk`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sim.commands import plain_ends
from sim.exit_codes import BAD_INPUT, MACHINE, fail

if TYPE_CHECKING:
    import socket

LOOPBACK = "127.0.0.1"
LIKED = 8790
"""The port where none is given; the next that is free where it is taken."""
MOST_DESKS = 20
AT_ONCE = 2
"""Longer requests (of several pages) that are computed side by side."""


def desk(
    case: Annotated[
        Path | None, typer.Argument(metavar="[CASE]", help="The case file (TOML); one to start from without.")
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(metavar="N", min=1024, max=65535, help="Port of this machine; a free one without it."),
    ] = None,
    show: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
) -> None:
    """A local page on which a case is changed by hand while its field follows: drag a tracer around the clock.

    Only this machine can reach it, with the address that is printed. It reads and writes nothing but the case's folder,
    until it is stopped with Ctrl-C. A result is evidence for an engineer, not a certificate.
    """
    with plain_ends(str(case)):
        try:
            import starlette  # noqa: F401
            import tomlkit  # noqa: F401
            import uvicorn
        except ImportError as error:
            fail(f"the desk needs {error.name}: pip install 'coldspot[desk]'")
        from secrets import token_urlsafe

        from sim.desk.folder import Folder
        from sim.desk.lanes import Lane
        from sim.desk.server import server

        place = Path.cwd() if case is None else case.resolve()
        folder = Folder(place.resolve() if case is None else place.parent)
        name = "" if case is None else place.name
        folder.raw(name)  # what is no case file at all is told here; one with a wrong key, on the page
        listener = _listener(port)
        number, token = listener.getsockname()[1], token_urlsafe(24)
        app = server(folder, token, number, Lane(folder, 1), Lane(folder, AT_ONCE), name)
        address = f"http://{LOOPBACK}:{number}/{token}/"
        _say(address, folder.path)
        if show:
            import webbrowser

            webbrowser.open(address)
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, lifespan="on", timeout_graceful_shutdown=1
        )
        uvicorn.Server(config).run(sockets=[listener])


def _say(address: str, folder: Path) -> None:
    from sim.report.method import CAUTIONS

    print(f"Desk: {address}", flush=True)
    print(f"It reads and writes {folder} and can be reached from this machine alone. Stop it with Ctrl-C.")
    print(*CAUTIONS, flush=True)


def _listener(port: int | None) -> socket.socket:
    """A socket that listens on the loopback, on the port that is given, or on a free one."""
    import socket

    for number in (port,) if port is not None else (*range(LIKED, LIKED + MOST_DESKS), 0):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((LOOPBACK, number))
        except OSError as error:
            listener.close()
            if port is not None:
                fail(f"--port: {port} cannot be had: {error.strerror}; accepted: one that is free", BAD_INPUT)
            continue
        listener.listen(64)
        return listener
    return fail("no port of this machine is free", MACHINE)
