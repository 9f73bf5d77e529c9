"""The processes of the second screen: none unless asked for, none left behind, no secret seen."""

import asyncio
import contextlib
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import aiohttp
import pytest

from dictate.share.address import ShareAddress
from dictate.share.door_messages import Code, Failed, Serving
from dictate.share.door_process import DoorProcess
from tests.share_script import __file__ as script

pytestmark = pytest.mark.network

SCRIPT = [sys.executable, "-m", "tests.share_script"]
ROOT = Path(script).parent.parent
ELSEWHERE = "192.0.2.99"
"""An address for documentation (RFC 5737), which is no machine's."""


def own_address():
    """This machine's address in its network, None where it has none; nothing is sent for it."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect((ELSEWHERE, 9))
        return probe.getsockname()[0]
    return None


def free_port():
    with socket.create_server((own_address(), 0)) as listening:
        return listening.getsockname()[1]


class Door:
    """The process that serves pages, and what it told."""

    def __init__(self):
        self.told = []
        self.process = DoorProcess(self.told.append)

    async def start(self, tmp_path, **address):
        await self.process.start(ShareAddress(**address), tmp_path / "socket")

    async def tells(self, kind):
        for _ in range(200):
            found = [each for each in self.told if isinstance(each, kind)]
            if found:
                return found[-1]
            await asyncio.sleep(0.05)
        pytest.fail(f"no {kind.__name__} was told, but {self.told}")


@pytest.fixture
async def door(monkeypatch, tmp_path):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    door = Door()
    yield door
    await door.process.end()


def test_nothing_is_opened_where_sharing_was_not_asked_for():
    told = subprocess.run(SCRIPT, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert told.strip() == "[] []"


def test_what_sharing_opens_is_noticed(tmp_path):
    with sharing(tmp_path / "data") as (_, told):
        assert {"socket.bind", "subprocess.Popen"} <= set(told)


@contextlib.contextmanager
def sharing(data):
    process = subprocess.Popen(
        [*SCRIPT, "share"],
        cwd=ROOT,
        env=os.environ | {"DICTATE_DATA": str(data), "TMPDIR": str(data.parent)},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield process, process.stdout.readline().split()
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


def family_of(pid):
    """The command line and environment of a process and of all that it started."""
    seen = b""
    with contextlib.suppress(OSError):
        seen += b"".join(
            Path(f"/proc/{pid}/{what}").read_bytes() for what in ("cmdline", "environ")
        )
    for children in Path("/proc").glob(f"{pid}/task/*/children"):
        with contextlib.suppress(OSError):
            seen += b"".join(family_of(int(child)) for child in children.read_text().split())
    return seen


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="needs /proc")
async def test_codes_stand_in_no_command_line_environment_or_file(tmp_path):
    with sharing(tmp_path / "data") as (process, (url, code, write_code, *_)):
        async with browser() as client:
            own = {"Origin": url.rstrip("/")}
            async with client.post(url, data={"code": code}, headers=own) as page:
                assert "textual-terminal" in await page.text()
                websocket = str(page.url).replace("http", "ws") + "ws"
            async with client.ws_connect(websocket, headers=own) as drawn:
                await asyncio.wait_for(drawn.receive_bytes(), 20)
                family = family_of(process.pid)
        assert b"dictate.share.door" in family
        assert b"dictate.screen.viewer" in family
        for secret in (code, write_code):
            for form in (secret, secret.replace("-", "")):
                assert form.encode() not in family
                for file in (each for each in tmp_path.rglob("*") if each.is_file()):
                    assert form.encode() not in file.read_bytes()


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="needs /proc")
def test_a_secret_in_a_command_line_would_be_seen():
    waits = [sys.executable, "-c", "print(flush=True); input()", "abcd-2345"]
    with subprocess.Popen(waits, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        process.stdout.readline()
        assert b"abcd-2345" in family_of(os.getpid())
        process.kill()


async def test_nothing_is_served_once_charting_was_killed(tmp_path):
    with sharing(tmp_path / "data") as (process, (url, *_)):
        async with browser() as client:
            async with client.get(url) as page:
                assert page.status == 200
            assert list(tmp_path.glob("dictate-*"))
            process.send_signal(signal.SIGKILL)
            for _ in range(100):
                try:
                    async with client.get(url):
                        await asyncio.sleep(0.1)
                except aiohttp.ClientError:
                    break
            else:
                pytest.fail("pages are served without a charting screen")
    for _ in range(50):
        if not list(tmp_path.glob("dictate-*")):
            return
        await asyncio.sleep(0.1)
    pytest.fail("a socket is left behind")


def browser():
    return aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True))


async def test_the_code_is_told_again_when_it_changes(door, tmp_path):
    await door.start(tmp_path)
    url, code = (await door.tells(Serving)).url, (await door.tells(Code)).code
    async with browser() as client:
        own = {"Origin": url.rstrip("/")}
        async with client.post(url, data={"code": "wrong"}, headers=own) as page:
            assert page.status == 403
    await asyncio.sleep(0.2)
    assert (await door.tells(Code)) == Code(code=code, wrong=1)


async def test_who_was_turned_away_needs_a_new_code(door, tmp_path):
    await door.start(tmp_path)
    url, code = (await door.tells(Serving)).url, (await door.tells(Code)).code
    async with browser() as client:
        own = {"Origin": url.rstrip("/")}
        async with client.post(url, data={"code": code}, headers=own) as page:
            seat = page.url
            assert "textual-terminal" in await page.text()
        told = len(door.told)
        door.process.turn_away()
        while len(door.told) == told:
            await asyncio.sleep(0.05)
        async with client.get(seat) as page:
            assert "The code for looking on" in await page.text()
    assert (await door.tells(Code)).code != code


async def test_on_this_machine_another_port_will_do_where_the_usual_one_is_taken(door, tmp_path):
    with socket.socket() as taken:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        with contextlib.suppress(OSError):
            taken.bind(("127.0.0.1", ShareAddress().port))
            taken.listen()
        await door.start(tmp_path)
        assert (await door.tells(Serving)).url.startswith("http://127.0.0.1:")


async def test_a_port_that_was_named_and_is_taken_is_told(door, tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        await door.start(tmp_path, host="127.0.0.1", port=port)
        assert (await door.tells(Failed)).problem == (
            f"Port {port} of 127.0.0.1 is taken: name another one."
        )


async def test_an_address_may_be_of_the_newer_kind(door, tmp_path):
    if not socket.has_ipv6 or not Path("/proc/net/if_inet6").exists():
        pytest.skip("this machine has no IPv6")
    await door.start(tmp_path, host="::1")
    url = (await door.tells(Serving)).url
    assert url.startswith("http://[::1]:")
    async with browser() as client, client.get(url) as page:
        assert "The code for looking on" in await page.text()


@pytest.mark.parametrize("address", ["0.0.0.0", "practice.local", "192.168.1.20:80"])
def test_what_cannot_be_shared_at_is_said_before_a_case_is_opened(tmp_path, address):
    ended = subprocess.run(
        [sys.executable, "-m", "dictate", "chart", "--no-listen", "--share-at", address],
        cwd=ROOT,
        env=os.environ | {"DICTATE_DATA": str(tmp_path / "data")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 2
    assert ended.stdout == ""
    assert ended.stderr.count("\n") == 1
    assert not (tmp_path / "data").exists()


async def test_an_address_of_another_machine_is_told(door, tmp_path):
    await door.start(tmp_path, host=ELSEWHERE)
    assert "is no address of this machine" in (await door.tells(Failed)).problem


async def test_a_server_that_ends_by_itself_is_told(door, tmp_path):
    await door.start(tmp_path)
    await door.tells(Serving)
    door.process._process.kill()
    assert "ended by itself" in (await door.tells(Failed)).problem


@pytest.mark.skipif(own_address() is None, reason="this machine has no network")
async def test_away_from_the_machine_all_is_encrypted(door, tmp_path):
    await door.start(tmp_path, host=own_address(), port=free_port())
    serving, code = await door.tells(Serving), (await door.tells(Code)).code
    assert serving.url.startswith("https://")
    pinned = aiohttp.Fingerprint(bytes.fromhex(serving.fingerprint))
    async with browser() as client:
        own = {"Origin": serving.url.rstrip("/")}
        with pytest.raises(aiohttp.ClientConnectorCertificateError):
            await client.get(serving.url)
        async with client.post(
            serving.url, data={"code": code}, headers=own, ssl=pinned, allow_redirects=False
        ) as page:
            assert "Secure" in page.headers["Set-Cookie"]
        with pytest.raises(aiohttp.ClientError):
            await client.get(serving.url.replace("https", "http"))
