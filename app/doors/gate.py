"""Stands before everything the web app serves, pages, files and the socket of a session alike.

Streamlit looks at the host of a session's socket only, lets a page of another
site open one where the host fits, and serves files to anyone. Here each request is
looked at before any of it reaches Streamlit.
"""

import logging
from collections.abc import Sequence
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs, urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.doors import pairing_page
from app.doors.rights import cookie_name
from model.service.pairing import DEVICE_LASTS, Refusal
from model.service.pairing_file import PairingFile

log = logging.getLogger(__name__)

HEALTH: Final = "/_stcore/health"
"""Says that the app answers, and nothing else; `serve` waits for it."""
CORE: Final = "/_stcore/"
HOST_CONFIG: Final = f"{CORE}host-config"
"""Asked for by an open page that has lost its session."""
FOR_DEVICES: Final = (HEALTH, HOST_CONFIG, f"{CORE}stream")
"""What of Streamlit's own addresses a page needs: neither uploads nor figures of use."""
PAIR_ANEW: Final = (
    "This device is not paired,\nor not any more.\n\n"
    "Reload this page and\npair it anew. What was typed\nand not stored is gone."
)
"""In short lines: the page breaks none."""
LARGEST_FORM: Final = 1024
"""Bytes of a posted code with its name, many times over."""
STATUS_OF: Final = {Refusal.WRONG: 403, Refusal.NO_CODE: 403, Refusal.LOCKED: 429}
POLICY_VIOLATION: Final = 1008
"""RFC 6455, 7.4.1; before the handshake it becomes an answer of 403."""


class Gate:
    """Lets in whoever asks this machine by its own name and, on a boat, is paired.

    Parameters
    ----------
    app : ASGI application
        What stands behind.
    hosts : sequence of str
        Names by which this server may be asked for; ports do not matter.
    port : int
        The port served, for the name of a device's cookie.
    pairing : PairingFile or None
        The paired devices; None where whoever reaches the app is its owner.
    """

    def __init__(
        self, app: ASGIApp, *, hosts: Sequence[str], port: int, pairing: PairingFile | None
    ) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._cookie = cookie_name(port)
        self._pairing = pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer here, or hand on; see the ASGI specification."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        answer = await self._refusal(scope, receive)
        if answer is None:
            await self._app(scope, receive, _unframed(send))
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": POLICY_VIOLATION})
        else:
            await answer(scope, receive, send)

    async def _refusal(self, scope: Scope, receive: Receive) -> Response | None:
        """What is answered in the app's place; None where the app is to answer."""
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or host_name(hosts[0]) not in self._hosts:
            log.info("a request by another name than this machine's was refused")
            return PlainTextResponse("Not known by this name.", 421)
        if not _is_same_origin(headers.get("origin"), hosts[0]):
            log.info("a request from a page of another site was refused")
            return PlainTextResponse("Not from there.", 403)
        if self._pairing is None or scope["path"] == HEALTH:
            return None
        return await self._on_a_boat(self._pairing, scope, receive)

    async def _on_a_boat(
        self, pairing: PairingFile, scope: Scope, receive: Receive
    ) -> Response | None:
        path, method = scope["path"], scope.get("method", "GET")
        if path == pairing_page.PATH and scope["type"] == "http":
            if method == "POST":
                return await self._pair(pairing, scope, receive)
            return _page(None)
        if not await run_in_threadpool(pairing.is_paired, self._token(Headers(scope=scope))):
            return _not_paired(path, method)
        is_core = path.startswith(CORE) and path not in FOR_DEVICES
        if method not in {"GET", "HEAD"} or is_core:
            return PlainTextResponse("Not for a paired device.", 403)
        return None

    def _token(self, headers: Headers) -> str | None:
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(self._cookie)
        except CookieError:
            return None
        return None if found is None else found.value

    async def _pair(self, pairing: PairingFile, scope: Scope, receive: Receive) -> Response:
        typed = await _posted_code(receive)
        address = scope["client"][0] if scope.get("client") else ""
        found = await run_in_threadpool(pairing.try_code, typed, address=address)
        if isinstance(found, Refusal):
            # Below what reaches the terminal: others on the network could scroll its code away.
            log.info("a device at %s was not paired: %s", address, found)
            return _page(found)
        answer = RedirectResponse("/", 303, {"Cache-Control": "no-store"})
        # Lax: a link opened from another app still finds the device paired. What another site's
        # page asks for is refused by its origin; nothing is changed by an address alone.
        answer.set_cookie(
            self._cookie,
            found,
            max_age=int(DEVICE_LASTS.total_seconds()),
            httponly=True,
            samesite="lax",
        )
        return answer


def host_name(header: str) -> str | None:
    """The name in a Host header, without its port; None where it is none.

    Parameters
    ----------
    header : str
        As ``127.0.0.1:8501``, ``localhost`` or ``[fd00::1]:8501``.
    """
    try:
        parts = urlsplit(f"//{header}")
        _ = parts.port  # a port that is no number is found out only when it is asked for
    except ValueError:
        return None
    bare = parts.netloc == header and "@" not in header
    return parts.hostname if bare else None


def _is_same_origin(origin: str | None, host: str) -> bool:
    """Whether a page of this very server asks; browsers always say so of a socket and a form."""
    return origin is None or origin == f"http://{host}"


async def _posted_code(receive: Receive) -> str:
    """The code in a posted form; empty where it is none, or larger than any."""
    body = b""
    while True:
        message = await receive()
        body += message.get("body", b"")
        if len(body) > LARGEST_FORM or message["type"] != "http.request":
            return ""
        if not message.get("more_body"):
            fields = parse_qs(body.decode("ascii", "replace"))
            return "".join(fields.get(pairing_page.FIELD, [])[:1])


def _not_paired(path: str, method: str) -> Response:
    """What whoever is not paired is answered, but on the page for the code."""
    if path == HOST_CONFIG:
        # Of a 403 the open page would say that its server's settings are to blame; it shows the
        # words of another status, if they are JSON.
        return JSONResponse(PAIR_ANEW, 401, {"WWW-Authenticate": "Code"})
    if method == "GET" and not path.startswith((CORE, "/media/", "/static/")):
        return RedirectResponse(pairing_page.PATH, 303, {"Cache-Control": "no-store"})
    return PlainTextResponse("Not paired.", 403)


def _page(refusal: Refusal | None) -> Response:
    return HTMLResponse(
        pairing_page.pairing_page(refusal),
        200 if refusal is None else STATUS_OF[refusal],
        {
            "Content-Security-Policy": pairing_page.POLICY,
            "Cache-Control": "no-store",
            "Referrer-Policy": "same-origin",
            "X-Content-Type-Options": "nosniff",
        },
    )


def _unframed(send: Send) -> Send:
    """No page of another site shows this one inside its own, and no file is taken for a script."""

    async def add(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["X-Frame-Options"] = "DENY"
            headers["X-Content-Type-Options"] = "nosniff"
        await send(message)

    return add
