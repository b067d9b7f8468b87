"""What every request passes before a page sees it: host, origin and length; and the headers of every answer.

The pages have no login. What keeps them private is that they are served to this computer only and that
no page of another site can read or write them: see docs/decisions/0061-pages-for-this-computer-only.md.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from contextlib import suppress
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from colophony.errors import InputError
from colophony.language import _, figures

#: Names under which this computer reaches itself. Any other name in the Host header is a page of
#: another site whose name was pointed here.
OWN_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})
READING = frozenset({"GET", "HEAD"})

#: Longest body of a form without a recording, in bytes.
FORM_LIMIT = 64 * 1024
#: Longest body with a recording, in bytes: two hours of stereo at 48 kHz and 24 bits are 2.07e9.
UPLOAD_LIMIT = 2_200_000_000

#: Bytes beyond the limit that are taken and thrown away, so that the sender gets its answer.
_DRAINED = 32_000_000
#: A refused sender is listened to for so long at most, s.
_DRAIN_S = 2.0

_POLICY = "; ".join(
    (
        "default-src 'self'",
        "media-src 'self' blob:",
        "img-src 'self' data:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
ANSWER_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(), geolocation=()",
}


class BodyTooLongError(InputError):
    """A request's body is longer than this page takes."""


class Guard:
    """ASGI middleware: refuses foreign hosts, foreign writes and endless bodies; sets the headers."""

    def __init__(
        self,
        app: ASGIApp,
        *,
        names: Iterable[str] = OWN_NAMES,
        form_limit: int = FORM_LIMIT,
        upload_limit: int = UPLOAD_LIMIT,
    ) -> None:
        self.app = app
        self.names = frozenset(names)
        self.form_limit = form_limit
        self.upload_limit = upload_limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse the request or pass it on."""
        if scope["type"] == "websocket":
            await self._connect(scope, receive, send)
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        answer = _with_headers(scope["path"], send)
        refusal = self._refusal(scope["method"], headers)
        if refusal is not None:
            status, line = refusal
            await _drained(receive)
            await PlainTextResponse(line + "\n", status, {"Connection": "close"})(scope, receive, answer)
            return
        is_upload = headers.get("content-type", "").startswith("multipart/form-data")
        limit = self.upload_limit if is_upload else self.form_limit
        try:
            await self.app(scope, _counted(receive, headers, limit), answer)
        except Exception:
            # A fault of our own: the reader gets a line with the headers of every answer, the log the rest.
            line = _("Something went wrong in the studio itself; what was kept is still there. Try again.")
            await PlainTextResponse(line + "\n", 500, {"Connection": "close"})(scope, receive, answer)
            raise

    async def _connect(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a WebSocket on from a page of ours; close any other before it opens (RFC 6455, 10.2).

        A connection can be written to, so it must name its origin as every write does.
        """
        headers = Headers(scope=scope)
        if _name_of(headers.get("host", "")) in self.names and _is_own(headers):
            await self.app(scope, receive, send)
            return
        await receive()
        await send({"type": "websocket.close", "code": 1008})

    def _refusal(self, method: str, headers: Headers) -> tuple[int, str] | None:
        if _name_of(headers.get("host", "")) not in self.names:
            line = _("These pages answer only to {names}, on this computer.")
            return 421, line.format(names=", ".join(sorted(self.names)))
        if method in READING:
            return None
        if method != "POST":
            return 405, _("These pages take GET and POST.")
        if not _is_own(headers):
            line = _("This was not sent from a page of this studio: open the page and send it from there.")
            return 403, line
        return None


async def _drained(receive: Receive) -> None:
    """Read what a refused sender has sent, within bounds.

    A connection that is closed over unread bytes is reset, and the sender never sees why (RFC 9112, 9.6).
    """
    read = 0
    with suppress(TimeoutError):
        async with asyncio.timeout(_DRAIN_S):
            while read < _DRAINED:
                message = await receive()
                read += len(message.get("body", b""))
                if not message.get("more_body", False):
                    return


def _name_of(host: str) -> str:
    """Return the name in a Host header, without the port, in lower case."""
    if host.startswith("["):
        return host[: host.find("]") + 1].lower()
    return host.partition(":")[0].lower()


def _is_own(headers: Headers) -> bool:
    """Tell whether a write comes from a page of this very origin.

    Browsers say so in Sec-Fetch-Site (W3C, Fetch Metadata Request Headers) or in Origin (RFC 6454); what
    says neither is no browser at a page of ours, and is refused.
    """
    site = headers.get("sec-fetch-site")
    if site is not None and site != "same-origin":
        return False
    origin = headers.get("origin")
    if origin is None:
        return site == "same-origin"
    parts = urlsplit(origin)
    return parts.scheme in {"http", "https"} and parts.netloc.lower() == headers.get("host", "").lower()


def _counted(receive: Receive, headers: Headers, limit: int) -> Receive:
    """Return ``receive`` that raises `BodyTooLongError` above ``limit`` bytes, announced or sent."""
    announced = headers.get("content-length", "")
    total = int(announced) if announced.isascii() and announced.isdigit() else 0
    too_long = total > limit
    total = 0

    async def receive_counted() -> Message:
        nonlocal total
        if not too_long:
            message = await receive()
            total += len(message.get("body", b""))
            if total <= limit:
                return message
            # A sender cut off in the middle never reads why: take a little more before answering.
            while message.get("more_body") and total < limit + _DRAINED:
                message = await receive()
                total += len(message.get("body", b""))
        size = figures(f"{limit / 1e9:.1f} GB" if limit >= 1e8 else f"{limit / 1024:.0f} kB")
        raise BodyTooLongError(
            _("This is longer than the {size} the studio takes at once: send a shorter recording.").format(
                size=size
            )
        )

    return receive_counted


def _with_headers(path: str, send: Send) -> Send:
    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in ANSWER_HEADERS.items():
                headers.setdefault(name, value)
            # Students' pages must not stay in a shared computer's cache; the look itself may.
            headers.setdefault("Cache-Control", "no-cache" if path.startswith("/static/") else "no-store")
        await send(message)

    return send_with_headers
