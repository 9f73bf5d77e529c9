"""What strangers may try on the second screen: too much at once, nothing at all, what was once
good."""

import asyncio
import contextlib

import aiohttp
import pytest
from aiohttp import web

from dictate.share import door
from dictate.share.address import ShareAddress
from dictate.share.codes import WRONG_TRIES, Gate
from dictate.share.door_messages import ANY_DOOR_TOLD, Serve
from dictate.share.doorstep import MOST_OF_ONE, MOST_OPEN
from dictate.share.messages import ANY_ASKED
from dictate.share.pages import Pages
from tests.test_share_pages import Drawn, Server

pytestmark = pytest.mark.network

IDLE_S = 0.5


@pytest.fixture
async def server(monkeypatch):
    """Pages served as the door serves them, that wait half a second only."""
    monkeypatch.setattr("dictate.share.pages._FORM_WITHIN_S", IDLE_S)
    for wait in ("_SAYS_NOTHING_S", "_LINGERS_S"):
        monkeypatch.setattr(door, wait, IDLE_S)
    listening = door._listen(Serve(host="127.0.0.1", port=0, any_port=False, socket="", folder=""))
    address = ShareAddress("127.0.0.1", listening.getsockname()[1])
    gate, drawn = Gate(), Drawn()
    pages = Pages(address, gate, drawn)
    runner = door._runner(pages)
    await runner.setup()
    await web.SockSite(runner, listening).start()
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(cookie_jar=jar) as client:
        served = Server(address, gate, drawn, client)
        served.pages = pages
        yield served
    await runner.cleanup()


async def opened(server):
    return await asyncio.open_connection("127.0.0.1", server.address.port)


async def is_closed(reader, within_s=5 * IDLE_S):
    """Whether the other side hangs up."""
    with contextlib.suppress(ConnectionError):
        return await asyncio.wait_for(reader.read(), within_s) is not None
    return True


# What was once good


async def test_an_old_code_opens_nothing(server):
    old = server.gate.code
    await server.seat()
    async with server.give(old) as response:
        assert response.status == 403


async def test_a_cookie_that_is_replayed_after_turning_away_opens_nothing(server):
    path = await server.seat()
    (cookie,) = [each for each in server.client.cookie_jar if each.key == "seat"]
    async with server.connect(path) as websocket:
        await server.pages.turn_away()
        assert (await websocket.receive()).data == "drawn"
        kind = (await asyncio.wait_for(websocket.receive(), 5)).type
        assert kind in (aiohttp.WSMsgType.CLOSE, aiohttp.WSMsgType.CLOSED)
    server.client.cookie_jar.clear()
    replayed = {"Cookie": f"seat={cookie.value}"}
    async with server.get(path, **replayed) as response:
        assert response.status == 303
    with pytest.raises(aiohttp.WSServerHandshakeError) as caught:
        await server.connect(path, server.own | replayed)
    assert caught.value.status == 403


async def test_the_cookie_of_one_seat_does_not_open_another(server):
    await server.seat()
    (cookie,) = [each for each in server.client.cookie_jar if each.key == "seat"]
    other = await server.seat()
    server.client.cookie_jar.clear()
    async with server.get(other, Cookie=f"seat={cookie.value}") as response:
        assert response.status == 303


async def test_however_many_tries_no_code_is_found_by_trying(server):
    codes = {server.gate.code}
    refused = set()
    for number in range(4 * WRONG_TRIES):
        async with server.give(f"2345678{number % 8 + 2}") as response:
            refused.add(response.status)
            assert server.gate.code.replace("-", "") not in await response.text()
        codes.add(server.gate.code)
    assert refused == {403}
    # All come from one address, which has to wait after the first.
    assert len(codes) == 1
    assert server.gate.wrong_in_all == 1


# Too much at once


@pytest.mark.parametrize("size", [5_000, 1_000_000])
async def test_a_form_that_is_too_large_is_refused(server, size):
    code = server.gate.code
    with contextlib.suppress(aiohttp.ClientError):
        async with server.give(code + "x" * size) as response:
            assert response.status == 413
    assert server.gate.code == code
    assert server.drawn.seats == []


async def test_a_message_that_is_too_large_ends_its_screen_and_no_other(server):
    path = await server.seat()
    async with server.connect(path) as bad, server.connect(path) as good:
        assert [await each.receive_str() for each in (bad, good)] == ["drawn", "drawn"]
        await bad.send_str("x" * 100_000)
        ended = await asyncio.wait_for(bad.receive(), 5)
        assert (ended.type, ended.data) == (aiohttp.WSMsgType.CLOSE, 1009)
        await good.send_str("x")
        await asyncio.sleep(0.1)
        assert not good.closed


@pytest.mark.parametrize("line", ["GET /" + "a" * 20_000, "GET / HTTP/1.1\r\nX: " + "a" * 40_000])
async def test_a_head_that_is_too_large_is_refused(server, line):
    reader, writer = await opened(server)
    writer.write(line.encode() + b" HTTP/1.1\r\n\r\n")
    answer = await asyncio.wait_for(reader.read(), 5)
    assert answer.startswith(b"HTTP/1.0 400") or b" 400 " in answer.split(b"\r\n")[0]
    writer.close()


# Nothing at all


@pytest.mark.parametrize(
    "said",
    [
        b"",
        b"GET / HT",
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n",
        b"POST / HTTP/1.1\r\nHost: HERE\r\nOrigin: http://HERE\r\nContent-Length: 90\r\n"
        b"Content-Type: application/x-www-form-urlencoded\r\n\r\ncode=",
    ],
    ids=["nothing", "half a line", "half a head", "half a form"],
)
async def test_who_does_not_finish_is_let_go(server, said):
    reader, writer = await opened(server)
    writer.write(said.replace(b"HERE", server.address.authority.encode()))
    assert await is_closed(reader)
    writer.close()


async def test_who_says_a_little_now_and_then_is_let_go(server):
    """The attack that is known as Slowloris: a head that never ends."""
    reader, writer = await opened(server)
    writer.write(b"GET / HTTP/1.1\r\n")
    closed = asyncio.create_task(is_closed(reader, 10 * IDLE_S))
    for _ in range(100):
        if closed.done():
            break
        with contextlib.suppress(ConnectionError):
            writer.write(b"X-a: b\r\n")
            await writer.drain()
        await asyncio.sleep(IDLE_S / 10)
    assert await closed
    writer.close()


async def test_one_address_has_so_many_connections_and_no_more(server, monkeypatch):
    async with contextlib.AsyncExitStack() as stack:
        kept = []
        for _ in range(MOST_OF_ONE + 5):
            reader, writer = await opened(server)
            stack.callback(writer.close)
            kept.append(reader)
        await asyncio.sleep(0.1)
        assert [each.at_eof() for each in kept].count(False) <= MOST_OF_ONE
    await asyncio.sleep(2 * IDLE_S)
    async with server.get() as response:
        assert response.status == 200


async def test_all_together_have_so_many_and_no_more(server, monkeypatch):
    monkeypatch.setattr("dictate.share.doorstep.MOST_OF_ONE", 10_000)
    async with contextlib.AsyncExitStack() as stack:
        kept = []
        for _ in range(MOST_OPEN + 5):
            reader, writer = await opened(server)
            stack.callback(writer.close)
            kept.append(reader)
        await asyncio.sleep(0.1)
        assert [each.at_eof() for each in kept].count(False) <= MOST_OPEN


# Secrets in what goes wrong


@pytest.mark.parametrize(
    ("adapter", "line"),
    [
        (ANY_DOOR_TOLD, b'{"told": "code", "code": "abcd-2345", "wrong": "many"}'),
        (ANY_ASKED, b'{"ask": "may_write", "number": "x", "code": "abcd-2345"}'),
    ],
)
def test_a_code_is_in_no_error(adapter, line):
    with pytest.raises(ValueError, match="valid") as caught:
        adapter.validate_json(line)
    assert "abcd" not in str(caught.value)
