"""The second screen in a real browser: looking on, being refused, and charting with a code."""

import asyncio
import contextlib
import os
import signal

import pytest
from aiohttp import web

from dictate.screen.second_screen import SecondScreen
from dictate.screen.sharing import SharingApp
from dictate.share.address import ShareAddress
from tests.browser import CHROMIUM, NO_CHROMIUM, chromium
from tests.screen_pilot import LARGE, enter, see, session_of
from tests.test_share_processes import free_port, own_address

pytestmark = [pytest.mark.network, pytest.mark.skipif(CHROMIUM is None, reason=NO_CHROMIUM)]


@contextlib.asynccontextmanager
async def shared(monkeypatch, tmp_path, session, **address):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    app = SharingApp(session, address=ShareAddress(**address))
    async with app.run_test(size=LARGE) as pilot:
        await see(pilot, "2nd screen http")
        yield pilot, app.query_one(SecondScreen)


async def admitted(page, panel):
    await page.open(panel.serving.url)
    await page.see("The code for looking on", page.text)
    await page.see("code", lambda: page.value("document.activeElement?.id"))
    await page.type(panel.code.code)
    await page.enter()
    await page.see("SECOND SCREEN")


async def test_a_second_screen_looks_on_and_writes_only_with_the_code(monkeypatch, tmp_path):
    session = session_of(phrases=("208 calculus 2",))
    async with (
        shared(monkeypatch, tmp_path, session) as (pilot, panel),
        chromium(tmp_path / "profile") as page,
    ):
        first_code = panel.code.code
        await admitted(page, panel)
        assert panel.code.code != first_code
        await page.see("only looking on")
        await page.see("calculus 2")

        await enter(pilot, "109 pocket 5 mesial")
        await page.see("109 pocket 5 mesial")

        before = session.events
        await page.type("204 calculus 3")
        await page.enter()
        await page.see("This screen only looks on")
        assert session.events == before

        await pilot.pause(0.2)
        await page.press("Home", 36)
        for _ in range(20):
            await page.press("Delete", 46)
        await page.type(panel.write_code)
        await page.enter()
        await page.see("what you type here is charted")
        await page.type("204 calculus 3")
        await page.enter()
        await page.see("“204 calculus 3”")
        await see(pilot, "204 calculus 3")
        assert [each.words() for each in session.chart.on(204)] == ["calculus 3"]
        assert session.heard[-1].what.engine == "keyboard"
        await page.see("1 can write", lambda: asyncio.sleep(0, str(panel.render())))
        assert all(each.split("://")[1].startswith("127.0.0.1:") for each in page.requests), (
            page.requests
        )
        assert page.complaints == []


async def test_a_page_that_hears_no_more_says_that_it_may_be_old(monkeypatch, tmp_path):
    async with (
        shared(monkeypatch, tmp_path, session_of()) as (pilot, panel),
        chromium(tmp_path / "profile") as page,
    ):
        await admitted(page, panel)
        assert "may be old" not in await page.text()
        door = pilot.app._door._process
        os.kill(door.pid, signal.SIGSTOP)
        try:
            await page.see("may be old", page.text)
        finally:
            os.kill(door.pid, signal.SIGCONT)
        await gone("may be old", page.text)


async def gone(words, read):
    for _ in range(100):
        if words not in (await read() or ""):
            return
        await asyncio.sleep(0.1)
    pytest.fail(f"{words!r} stays on the page")


async def test_the_page_says_so_when_charting_has_ended(monkeypatch, tmp_path):
    async with chromium(tmp_path / "profile") as page:
        async with shared(monkeypatch, tmp_path, session_of()) as (_, panel):
            await admitted(page, panel)
        await page.see("This second screen is closed", page.text)


async def test_who_is_turned_away_is_gone(monkeypatch, tmp_path):
    async with (
        shared(monkeypatch, tmp_path, session_of()) as (pilot, panel),
        chromium(tmp_path / "profile") as page,
    ):
        await admitted(page, panel)
        await pilot.app.run_action("turn_away")
        await page.see("This second screen is closed", page.text)
        await page.open(panel.serving.url)
        await page.see("The code for looking on", page.text)


ATTACK = """(async () => {
    const got = [];
    const socket = new WebSocket("%(ws)s");
    got.push(await new Promise(done => {
        socket.onopen = () => done("connected");
        socket.onerror = () => done("no websocket");
    }));
    try {
        const page = await fetch("%(page)s", {credentials: "include"});
        got.push("read " + (await page.text()).length);
    } catch { got.push("no page"); }
    const frame = document.createElement("iframe");
    frame.src = "%(page)s";
    document.body.append(frame);
    await new Promise(done => { frame.onload = done; });
    return got.join(", ");
})()"""


@contextlib.asynccontextmanager
async def another_page():
    """A page of another server of this machine, and the cookies that it was sent."""
    cookies = []

    async def show(request):
        cookies.append(request.headers.get("Cookie"))
        return web.Response(text="<body>another page</body>", content_type="text/html")

    app = web.Application()
    app.router.add_get("/{anything:.*}", show)
    runner = web.AppRunner(app)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    yield f"http://127.0.0.1:{runner.addresses[0][1]}/", cookies
    await runner.cleanup()


async def test_another_page_of_this_machine_gets_nothing_and_no_cookie(monkeypatch, tmp_path):
    async with (
        another_page() as (other, cookies),
        shared(monkeypatch, tmp_path, session_of()) as (pilot, panel),
        chromium(tmp_path / "profile") as page,
    ):
        await admitted(page, panel)
        seat = await page.value("location.href")
        await page.open(other)
        await page.see("another page", page.text)
        attack = ATTACK % {"page": seat, "ws": seat.replace("http", "ws") + "ws"}
        got = await page.ask(
            "Runtime.evaluate", expression=attack, awaitPromise=True, returnByValue=True
        )
        assert got["result"]["value"] == "no websocket, no page"
        await pilot.pause(2)  # A page that is shown in the frame would have begun to follow.
        assert pilot.app._hub.watching == 0
        assert cookies
        assert not any(cookies)


@pytest.mark.skipif(own_address() is None, reason="this machine has no network")
async def test_away_from_the_machine_the_browser_warns_and_then_all_is_encrypted(
    monkeypatch, tmp_path
):
    where = {"host": own_address(), "port": free_port()}
    async with shared(monkeypatch, tmp_path, session_of(), **where) as (pilot, panel):
        async with chromium(tmp_path / "one", host=where["host"]) as page:
            await page.open(panel.serving.url)
            await page.see("ERR_CERT_AUTHORITY_INVALID", page.text)
        trusting = "--ignore-certificate-errors"
        async with chromium(tmp_path / "two", trusting, host=where["host"]) as page:
            await page.open(panel.serving.url)
            await page.see("SHA-256 fingerprint", page.text)
            await admitted(page, panel)
            await enter(pilot, "208 calculus 2")
            await page.see("208: calculus 2")
            away = f"{where['host']}:{where['port']}/"
            assert {each.split(away)[0] for each in page.requests} == {"https://", "wss://"}
