"""The pages of the second screen: one asks for the code, one shows the screen."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from time import monotonic

import textual_serve
from aiohttp import web
from jinja2 import Environment, FileSystemLoader

from dictate.errors import DictateError
from dictate.share.address import ShareAddress
from dictate.share.codes import Gate
from dictate.share.seats import COOKIE, Seat, Seats
from dictate.share.viewer_process import ViewerProcess

_PAGE = Path(__file__).parent / "page"
_STATIC = Path(textual_serve.__file__).parent / "static"
_MOST_SCREENS = 4
_LONGEST_FORM = 4096
_FORM_WITHIN_S = 10.0
_LONGEST_MESSAGE = 65_536
_FONT_SIZE = 16
_HEARTBEAT_S = 15.0

Draw = Callable[[web.WebSocketResponse, str, int, int], Awaitable[None]]
"""Draws a second screen for a websocket and the name of a seat, of so many columns and rows."""


def drawing_from(socket: str) -> Draw:
    """Return what draws second screens that follow the socket, each in a process of its own."""

    async def draw(websocket: web.WebSocketResponse, seat: str, width: int, height: int) -> None:
        await ViewerProcess(websocket, socket, seat).serve(width, height)

    return draw


class Pages:
    """The web application at one address, opened by the codes of `gate`."""

    def __init__(self, address: ShareAddress, gate: Gate, draw: Draw) -> None:
        self._address = address
        self._gate = gate
        self._draw = draw
        self._seats = Seats()
        self._open: set[web.WebSocketResponse] = set()
        self._templates = Environment(loader=FileSystemLoader(_PAGE), autoescape=True)

    async def turn_away(self) -> None:
        """Close every screen; each browser needs a new code."""
        self._seats.give_up()
        self._gate.renew()
        await self._close_all()

    def application(self) -> web.Application:
        """Return the application."""
        app = web.Application(middlewares=[self._guard], client_max_size=_LONGEST_FORM)
        app.add_routes(
            [
                web.get("/", self._ask),
                web.post("/", self._admit),
                web.get("/seat/{name}/", self._show),
                web.get("/seat/{name}/ws", self._connect),
                web.get("/page/page.css", _own_file),
                web.get("/page/page.js", _own_file),
                web.static("/static", _STATIC),
            ]
        )
        app.on_response_prepare.append(self._add_headers)
        app.on_shutdown.append(self._close_all)
        return app

    @web.middleware
    async def _guard(
        self,
        request: web.Request,
        handler: Callable[[web.Request], Awaitable[web.StreamResponse]],
    ) -> web.StreamResponse:
        """Turn away what does not come from a page at this very address, whose name may have been
        bent to it, and what another page asks for."""
        if request.headers.getall("Host", []) != [self._address.authority]:
            raise web.HTTPForbidden(text=f"This is {self._address.origin}: open that.")
        if request.headers.get("Sec-Fetch-Site", "none") not in ("none", "same-origin"):
            raise web.HTTPForbidden(text="Another page asked for this: type the address yourself.")
        wants_origin = request.method != "GET" or "Upgrade" in request.headers
        origin = request.headers.get("Origin")
        if origin != self._address.origin and (wants_origin or origin is not None):
            raise web.HTTPForbidden(text="Another page asked for this: type the address yourself.")
        return await handler(request)

    async def _add_headers(self, request: web.Request, response: web.StreamResponse) -> None:
        """Say that the page takes nothing from elsewhere, is shown in no other, and is not kept.
        The terminal sets the widths of its cells by styles of its own."""
        response.headers.update(
            {
                "Content-Security-Policy": (
                    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
                    f"font-src 'self'; connect-src {self._address.websocket_origin}; "
                    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
                ),
                "Cache-Control": "no-store",
                "Cross-Origin-Opener-Policy": "same-origin",
                "Cross-Origin-Resource-Policy": "same-origin",
                "Referrer-Policy": "same-origin",
                "X-Content-Type-Options": "nosniff",
                "X-Frame-Options": "DENY",
            }
        )
        response.headers.pop("Server", None)

    async def _ask(self, request: web.Request) -> web.Response:
        return self._code_page()

    def _code_page(self, problem: str = "", status: int = 200) -> web.Response:
        return self._page("code.html", status, problem=problem)

    def _page(self, name: str, status: int = 200, **values: object) -> web.Response:
        template = self._templates.get_template(name)
        text = template.render(encrypted=self._address.leaves_the_machine, **values)
        return web.Response(text=text, content_type="text/html", status=status)

    async def _admit(self, request: web.Request) -> web.StreamResponse:
        async with asyncio.timeout(_FORM_WITHIN_S):
            code = (await request.post()).get("code", "")
        given = code[:64] if isinstance(code, str) else ""
        try:
            self._gate.admit(given, request.remote or "", monotonic())
        except DictateError as error:
            return self._code_page(str(error), status=403)
        seat = self._seats.take()
        response = web.Response(status=303, headers={"Location": seat.path})
        response.set_cookie(
            COOKIE,
            seat.secret,
            path=seat.path,
            httponly=True,
            samesite="Strict",
            secure=self._address.leaves_the_machine,
        )
        return response

    def _seat(self, request: web.Request) -> Seat | None:
        return self._seats.of(request.match_info["name"], request.cookies.get(COOKIE, ""))

    async def _show(self, request: web.Request) -> web.StreamResponse:
        seat = self._seat(request)
        if seat is None:
            raise web.HTTPSeeOther("/")
        url = f"{self._address.websocket_origin}{seat.path}ws"
        return self._page("screen.html", path=seat.path, websocket_url=url, font_size=_FONT_SIZE)

    async def _connect(self, request: web.Request) -> web.StreamResponse:
        seat = self._seat(request)
        if seat is None:
            raise web.HTTPForbidden(text="Enter the code first.")
        if len(self._open) >= _MOST_SCREENS:
            raise web.HTTPServiceUnavailable(text=f"{_MOST_SCREENS} second screens are open.")
        websocket = web.WebSocketResponse(heartbeat=_HEARTBEAT_S, max_msg_size=_LONGEST_MESSAGE)
        self._open.add(websocket)
        try:
            await websocket.prepare(request)
            width, height = (_number(request, name) for name in ("width", "height"))
            await self._draw(websocket, seat.name, width or 80, height or 24)
        finally:
            self._open.discard(websocket)
        return websocket

    async def _close_all(self, _app: web.Application | None = None) -> None:
        await asyncio.gather(*(each.close() for each in self._open), return_exceptions=True)


def _number(request: web.Request, name: str) -> int:
    text = request.query.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0


async def _own_file(request: web.Request) -> web.FileResponse:
    return web.FileResponse(_PAGE / request.path.rpartition("/")[2])
