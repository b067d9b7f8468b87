"""In which language does a page speak? In the one that was chosen in its foot, else in the browser's."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.datastructures import Headers
from starlette.requests import Request, cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from colophony.app.web.forms import read_form
from colophony.language import LANGUAGES, language_of, speaking

router = APIRouter()
COOKIE = "language"
_YEAR_S = 365 * 24 * 3600


class Spoken:
    """ASGI middleware: everything that answers a request speaks its language, also in a thread of its own."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on in its language."""
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        with speaking(_wanted(Headers(scope=scope))):
            await self.app(scope, receive, send)


def _wanted(headers: Headers) -> str:
    """Return the cookie's language, else the first known one that the browser names (RFC 9110, 12.5.4)."""
    chosen = cookie_parser(headers.get("cookie", "")).get(COOKIE, "")
    return chosen if chosen in LANGUAGES else language_of(headers.get("accept-language", ""))


@router.post("/language")
async def choose(request: Request) -> Response:
    """Keep the language chosen in the foot of a page, and return to that page."""
    fields = await read_form(request)
    back = fields.get("back", "")
    is_ours = back.startswith("/") and not back.startswith(("//", "/\\"))
    answer = RedirectResponse(back if is_ours else "/", 303)
    chosen = fields.get("language", "")
    if chosen in LANGUAGES:
        answer.set_cookie(COOKIE, chosen, max_age=_YEAR_S, httponly=True, samesite="strict")
    return answer
