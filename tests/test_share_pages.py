"""The pages of the second screen, as a browser, a stranger and another page ask for them."""

import asyncio
import contextlib
import socket

import aiohttp
import pytest
from aiohttp import web

from dictate.share.address import ShareAddress
from dictate.share.codes import Gate
from dictate.share.pages import Pages

pytestmark = pytest.mark.network

REBOUND = "evil.example"
"""A name that somebody made mean this machine."""


class Drawn:
    """Takes the place of the processes that draw: it says which seat, and stays until it is
    closed."""

    def __init__(self):
        self.seats = []

    async def __call__(self, websocket, seat, width, height):
        self.seats.append((seat, width, height))
        await websocket.send_str("drawn")
        async for _ in websocket:
            pass


class Server:
    def __init__(self, address, gate, drawn, client):
        self.address = address
        self.gate = gate
        self.drawn = drawn
        self.client = client
        self.url = f"{address.origin}/"
        self.own = {"Origin": address.origin}

    def get(self, path="/", **headers):
        return self.client.get(self.address.origin + path, headers=headers, allow_redirects=False)

    def give(self, code, headers=None):
        return self.client.post(
            self.url, data={"code": code}, headers=self.own | (headers or {}), allow_redirects=False
        )

    async def seat(self):
        async with self.give(self.gate.code) as response:
            assert response.status == 303
            return response.headers["Location"]

    def connect(self, path, headers=None):
        url = f"{self.address.websocket_origin}{path}ws?width=90&height=30"
        return self.client.ws_connect(url, headers=self.own if headers is None else headers)


@pytest.fixture
async def server():
    listening = socket.create_server(("127.0.0.1", 0))
    address = ShareAddress("127.0.0.1", listening.getsockname()[1])
    gate, drawn = Gate(), Drawn()
    runner = web.AppRunner(Pages(address, gate, drawn).application(), shutdown_timeout=1)
    await runner.setup()
    await web.SockSite(runner, listening).start()
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(cookie_jar=jar) as client:
        yield Server(address, gate, drawn, client)
    await runner.cleanup()


async def test_the_page_asks_for_the_code_first(server):
    async with server.get() as response:
        assert response.status == 200
        assert "The code for looking on" in await response.text()


async def test_the_right_code_opens_the_screen_and_is_used_up(server):
    code = server.gate.code
    path = await server.seat()
    assert server.gate.code != code
    async with server.get(path) as response:
        assert "textual-terminal" in await response.text()
    async with server.connect(path) as websocket:
        assert await websocket.receive_str() == "drawn"
    assert server.drawn.seats[0][1:] == (90, 30)


@pytest.mark.parametrize("code", ["", "wrong", "aaaa-aaaa", "ä" * 8, "x" * 3000])
async def test_a_wrong_code_opens_nothing(server, code):
    async with server.give(code) as response:
        assert response.status == 403
        assert "not the code" in await response.text()
        assert "Set-Cookie" not in response.headers


async def test_an_old_code_opens_nothing(server):
    code = server.gate.code
    await server.seat()
    async with server.give(code) as response:
        assert response.status == 403


async def test_after_a_wrong_code_even_the_right_one_waits(server):
    async with server.give("wrong"):
        pass
    async with server.give(server.gate.code) as response:
        assert response.status == 403
        assert "Wait" in await response.text()


async def test_the_cookie_is_kept_from_scripts_other_sites_and_other_paths(server):
    async with server.give(server.gate.code) as response:
        cookie = response.headers["Set-Cookie"]
        assert f"Path={response.headers['Location']}" in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


async def test_without_its_cookie_a_seat_is_nobodys(server):
    path = await server.seat()
    server.client.cookie_jar.clear()
    async with server.get(path) as response:
        assert response.status == 303
        assert response.headers["Location"] == "/"
    with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
        await server.connect(path)
    assert caught.value.status == 403
    assert server.drawn.seats == []


@pytest.mark.parametrize("path", ["/", "/page/page.css", "/static/js/textual.js", "/seat/x/"])
async def test_a_name_that_was_bent_to_this_machine_is_turned_away(server, path):
    async with server.get(path, Host=f"{REBOUND}:{server.address.port}") as response:
        assert response.status == 403


async def test_a_name_that_was_bent_gets_no_websocket(server):
    path = await server.seat()
    bent = {"Host": REBOUND, "Origin": f"http://{REBOUND}"}
    with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
        await server.connect(path, bent)
    assert caught.value.status == 403


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "http://127.0.0.1:1", "http://localhost"]
)
async def test_another_page_can_neither_connect_nor_give_a_code(server, origin):
    code = server.gate.code
    async with server.give(code, {"Origin": origin}) as response:
        assert response.status == 403
    assert server.gate.code == code
    path = await server.seat()
    with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
        await server.connect(path, {"Origin": origin})
    assert caught.value.status == 403
    assert server.drawn.seats == []


async def test_a_websocket_that_names_no_origin_is_turned_away(server):
    path = await server.seat()
    with pytest.raises(aiohttp.WSServerHandshakeError):
        await server.connect(path, {})


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
async def test_what_another_site_asks_for_is_turned_away(server, site):
    async with server.get(**{"Sec-Fetch-Site": site}) as response:
        assert response.status == 403


@pytest.mark.parametrize("path", ["/", "/nothing", "/page/page.css", "/static/js/textual.js"])
async def test_every_answer_forbids_what_comes_from_elsewhere(server, path):
    async with server.get(path) as response:
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe-eval" not in policy
        assert response.headers["Cache-Control"] == "no-store"
        assert response.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("path", ["/static/", "/static/../pages.py", "/page/code.html", "/seat/"])
async def test_nothing_else_is_served(server, path):
    async with server.get(path) as response:
        assert response.status in (403, 404)


async def test_no_more_screens_than_the_machine_can_draw(server):
    path = await server.seat()
    async with contextlib.AsyncExitStack() as stack:
        for _ in range(4):
            websocket = await stack.enter_async_context(server.connect(path))
            await websocket.receive_str()
        with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
            await server.connect(path)
        assert caught.value.status == 503
    for _ in range(50):
        await asyncio.sleep(0.05)
        with contextlib.suppress(aiohttp.WSServerHandshakeError):
            async with server.connect(path) as websocket:
                assert await websocket.receive_str() == "drawn"
                return
    pytest.fail("a screen that was closed still counts")


async def test_once_the_gate_is_shut_the_code_is_dead(server):
    code = server.gate.code
    server.gate.shut()
    async with server.give(code) as response:
        assert response.status == 403
