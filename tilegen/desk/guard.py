"""What stands before every request: this machine only, this page only, nothing large."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A plan of 200 x 200 cells with all its ways is well under this.
MOST_BYTES = 2_000_000
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


def own_hosts(port: int) -> tuple[str, ...]:
    """The only names this page answers to: another one that leads here is a trick (DNS rebinding)."""
    return tuple(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))


class Guard:
    """ASGI middleware.

    A request must name this machine in its Host header; one that changes anything must come from this page (Origin,
    and JSON, which no foreign form can send); bodies are bounded, also where no length is given.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self.app, self.hosts = app, frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = self._refused(Headers(scope=scope), str(scope["method"]))
        if refused is not None:
            await refused(scope, receive, self._with_headers(send))
            return
        await self.app(scope, _bounded(receive), self._with_headers(send))

    def _refused(self, headers: Headers, method: str) -> PlainTextResponse | None:
        if headers.get("host", "") not in self.hosts:
            return PlainTextResponse("This page answers on this machine only.", 421)
        if method in ("GET", "HEAD"):
            foreign = headers.get("sec-fetch-site", "none") in ("cross-site", "same-site")
            return PlainTextResponse("Not from another page.", 403) if foreign else None
        return self._refused_write(headers)

    def _refused_write(self, headers: Headers) -> PlainTextResponse | None:
        length = headers.get("content-length", "0")
        faults = (
            (headers.get("origin", "").removeprefix("http://") not in self.hosts, "Only from the page itself.", 403),
            (headers.get("content-type", "").split(";")[0].strip() != "application/json", "JSON is expected.", 415),
            (not length.isdigit() or int(length) > MOST_BYTES, f"At most {MOST_BYTES} bytes.", 413),
        )
        return next((PlainTextResponse(words, status) for wrong, words, status in faults if wrong), None)

    @staticmethod
    def _with_headers(send: Send) -> Send:
        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", []), *_HEADERS]}
            await send(message)

        return sent


class TooLargeError(Exception):
    """A body that grew beyond its bound while it came in."""


def _bounded(receive: Receive) -> Receive:
    seen = 0

    async def received() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > MOST_BYTES:
                raise TooLargeError
        return message

    return received
