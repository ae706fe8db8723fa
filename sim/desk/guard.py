"""Who may talk to a desk: whoever knows its token, from its own page, under its own name."""

from secrets import compare_digest

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST_BODY = 2_000_000
"""Bytes of a request."""
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
    "object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Guard:
    """Lets a request pass whose address begins with the token; every other gets 403, whatever it asks for.

    Looked at too: the name it was sent to (others can be made to lead here), the page it comes from, its size. Its
    token is the first step of the path, so that every address within the page has it.
    """

    def __init__(self, app: ASGIApp, token: str, port: int) -> None:
        self.app, self.token = app, token
        self.names = frozenset({f"127.0.0.1:{port}", f"localhost:{port}"})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http" or not self.allowed(scope):
            if scope["type"] == "http":
                await PlainTextResponse("403: not this desk's page", 403, HEADERS)(scope, receive, send)
            else:
                await send({"type": "websocket.close", "code": 1008})
            return

        async def headed(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = [(k.lower().encode(), v.encode()) for k, v in HEADERS.items()]
                message["headers"] = [*message.get("headers", []), *given]
            await send(message)

        await self.app(dict(scope) | {"path": self._rest(scope["path"])}, receive, headed)

    def allowed(self, scope: Scope) -> bool:
        """Whether a request may pass."""
        headers: dict[bytes, bytes] = {}
        for name, value in scope["headers"]:
            if name in (b"host", b"origin", b"content-length") and name in headers:
                return False
            headers[name] = value
        host = headers.get(b"host", b"").decode("latin-1")
        origin = headers.get(b"origin", b"").decode("latin-1")
        size = headers.get(b"content-length", b"0")
        return (
            compare_digest(scope["path"].split("/")[1].encode(), self.token.encode())
            and host in self.names
            and origin in ("", f"http://{host}")
            and headers.get(b"sec-fetch-site", b"none") in (b"none", b"same-origin")
            and size.isdigit()
            and int(size) <= LARGEST_BODY
        )

    def _rest(self, path: str) -> str:
        """The path without the token."""
        return path[len(self.token) + 1 :] or "/"
