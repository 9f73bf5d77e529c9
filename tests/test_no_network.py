"""What was not asked to open a socket opens none: the commands, run as people run them."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.whole_case import CASE, READ, ROOT, SPOKEN, WRITE, Watched, keep_visits


def test_what_asks_for_a_network_is_noted(tmp_path):
    """The download, which is the one command that may; nothing is there to be reached."""
    watched = Watched(tmp_path)
    ended = watched.run("model", "get", "vosk-model-small-en-us-0.15")
    assert ended.returncode == 2
    _, asked = watched.noted()
    assert any(each.startswith("urllib.Request") for each in asked)


def test_no_command_opens_a_socket(commands_run):
    processes, asked = commands_run.noted()
    assert processes >= len(WRITE) + len(READ)
    assert asked == []


CHART = """
import asyncio, sys
from dictate.listening.engines import EngineMaker
from dictate.listening.listener import Listener, in_own_process
from dictate.screen.app import ChartingApp
from dictate.speech.audio_file import AudioFile
from pathlib import Path
from tests.screen_pilot import enter, session_of

async def main():
    session = session_of()
    make = EngineMaker("sphinx")
    def listen(tell, context):
        return Listener(AudioFile(Path(sys.argv[1])), in_own_process(make, tell), tell, context)
    app = ChartingApp(session, listen)
    async with app.run_test() as pilot:
        await enter(pilot, "208 calculus 2")
        for _ in range(600):
            await pilot.pause(0.1)
            if any(each.what.engine != "keyboard" for each in session.heard):
                print("heard")
                return

asyncio.run(main())
"""


def test_charting_by_voice_opens_no_socket_in_the_program_or_its_engine(tmp_path):
    watched = Watched(tmp_path)
    ended = subprocess.run(
        [sys.executable, "-P", "-c", CHART, SPOKEN],
        env={**os.environ, **watched.environment},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ended.stdout.strip() == "heard", ended.stderr
    processes, asked = watched.noted()
    assert processes == 2
    assert asked == []


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_libraries_of_c_open_no_internet_socket_either(tmp_path, monkeypatch):
    """Audit events see what Python asks for; strace what any library asks of the system."""
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "data"))
    keep_visits()
    trace = tmp_path / "trace"
    program = "from dictate.cli import app; app()"
    for arguments in (
        ("report", CASE, "--out", str(tmp_path / "out")),
        ("drawing", CASE, "--out", str(tmp_path / "mouth.png")),
        ("replay", SPOKEN, "--engine", "sphinx"),
        ("check",),
    ):
        ended = subprocess.run(
            [
                *("strace", "-f", "-qq", "-e", "trace=%network", "-o", str(trace)),
                *(sys.executable, "-P", "-c", program, *arguments),
            ],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        if "PTRACE" in ended.stderr or not trace.exists():
            pytest.skip("strace may not look at processes here")
        called = Path(trace).read_text(encoding="utf-8")
        assert not re.search(r"AF_INET6?|AF_PACKET", called), (arguments, called)
