"""Make the screens of docs/screens.md: `python -m docs.screens.make`.

The real program runs in tmux, with a data folder of its own, and is typed to; what it shows is kept
as text. The pictures (SVG) are drawn by the program itself after the same phrases and keys.
"""

from __future__ import annotations

import asyncio
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from textual.pilot import Pilot

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.screen.app import ChartingApp
from dictate.screen.entry import PhraseInput
from dictate.session.session import Session
from dictate.settings import ScreenSettings, Settings
from docs.screens.visit import VISITS, Step, Visit

FOLDER = Path(__file__).resolve().parent
ROOT = FOLDER.parent.parent
PAGE = FOLDER.parent / "screens.md"
NO_TMUX = "There is no tmux here, so no screens can be captured: install tmux."
OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
PICTURES = {
    "dog-question": "dark",
    "dog-findings": "light",
    "dog-big": "dark",
    "cat-chart": "dark",
    "cat-plan": "light",
}
"""What is drawn as well, and in which theme."""
_WAIT_S, _STILL_S = 40.0, 1.5
_KEYS = {"NPage": "pagedown", "Escape": "escape"}


class Terminal:
    """The program in a tmux of its own, ended with it."""

    def __init__(self, visit: Visit, data: str) -> None:
        self._tmux = ["tmux", "-u", "-S", f"{data}/tmux"]
        columns, lines = visit.size
        command = [sys.executable, "-m", "dictate", "chart", "--no-listen"]
        command += ["--species", visit.species, "--animal", visit.animal]
        command += ["--clinician", "Dr. Ada Lind"]
        about = {"DICTATE_DATA": data, "PYTHONPATH": str(ROOT), "TZ": "UTC"}
        about |= {"COLUMNS": str(columns), "LINES": str(lines)}
        settings = [f"-e{name}={value}" for name, value in about.items()]
        size = ["-x", str(columns), "-y", str(lines)]
        self._run("-f", os.devnull, "new-session", "-d", *size, *settings, *command)
        self._wait("Type >", _STILL_S)

    def _run(self, *arguments: str) -> str:
        ran = subprocess.run(
            [*self._tmux, *arguments], check=True, capture_output=True, text=True, cwd=ROOT
        )
        return ran.stdout

    def do(self, step: Step) -> str:
        """Type and press what a step says; return the screen once it shows what is to be seen."""
        for phrase in step.says:
            self._run("send-keys", "-l", phrase)
            self._run("send-keys", "Enter")
            self._wait(f"“{phrase}”"[:12])
        for key in step.presses:
            self._run("send-keys", key)
            time.sleep(0.2)
        return self._wait(step.seen, _STILL_S)

    def _wait(self, words: str, still_s: float = 0.0) -> str:
        """Return the screen once it shows words and has not changed for some time (s)."""
        until, before, since = time.monotonic() + _WAIT_S, "", time.monotonic()
        while (now := time.monotonic()) < until:
            shown = without_time(self._run("capture-pane", "-p"))
            if shown != before:
                before, since = shown, now
            if words in shown and now - since >= still_s:
                return shown
            time.sleep(0.1)
        raise TimeoutError(f"{words!r} is not on the screen:\n{before}")

    def end(self) -> None:
        """End the program."""
        self._run("kill-server")


def without_time(screen: str) -> str:
    """Return a screen as it would be on one certain day, without spaces at the ends of lines."""
    screen = re.sub(r"\b\d:\d\d:\d\d\b", "0:12:34", screen)
    screen = re.sub(r"\b20\d\d-\d\d-\d\d( \d\d:\d\d)?\b", _that_day, screen)
    screen = re.sub(r"\b20\d{6}(?=-(?:dog|cat)-)", f"{OPENED:%Y%m%d}", screen)
    return "\n".join(line.rstrip() for line in screen.rstrip("\n").split("\n")) + "\n"


def _that_day(found: re.Match[str]) -> str:
    return f"{OPENED:%Y-%m-%d %H:%M}" if found[1] else f"{OPENED:%Y-%m-%d}"


def captured(visit: Visit) -> Iterator[tuple[str, str]]:
    """Yield the name and the text of each screen of a visit that is to be kept."""
    with tempfile.TemporaryDirectory() as data:
        terminal = Terminal(visit, data)
        try:
            for step in visit.steps:
                shown = terminal.do(step)
                if step.name:
                    yield step.name, shown
        finally:
            terminal.end()


async def drawn(visit: Visit, name: str, theme: str) -> str:
    """Return a screen of a visit as SVG, after the same steps."""
    case = Case(
        id=f"{OPENED:%Y%m%d}-{visit.species}-1",
        species=visit.species,
        opened=OPENED,
        animal=visit.animal,
        clinician="Dr. Ada Lind",
    )
    session = Session(case, spoken_languages(), now=lambda: OPENED)
    settings = Settings(screen=ScreenSettings(theme=theme))
    later = OPENED + timedelta(minutes=12, seconds=34)
    app = ChartingApp(session, now=lambda: later, settings=settings)
    async with app.run_test(size=visit.size) as pilot:
        for step in visit.steps:
            await _do(pilot, step)
            if step.name == name:
                break
        line = app.query_one(PhraseInput)
        line.cursor_blink = False
        await pilot.pause(0.5)
        return without_fonts(app.export_screenshot(title=f"dictate: {visit.animal}"))


async def _do(pilot: Pilot[None], step: Step) -> None:
    for phrase in step.says:
        pilot.app.query_one(PhraseInput).value = phrase
        await pilot.press("enter")
        await pilot.pause(0.1)
    for key in step.presses:
        await pilot.press(_KEYS.get(key, key.replace("C-", "ctrl+").lower()))
        await pilot.pause(0.2)


def without_fonts(svg: str) -> str:
    """Return a picture that asks for no font from elsewhere: the reader's own will do."""
    return re.sub(r"@font-face \{.*?\}\s*|<!--.*?-->\s*", "", svg, flags=re.DOTALL)


def page() -> str:
    """Return docs/screens.md."""
    lines = [
        "# The screen",
        "",
        "Two invented visits, typed into the program; made by `python -m docs.screens.make`. Each",
        "screen is there as text, as it stands in the terminal; some are drawn with their inks.",
        "",
    ]
    for visit in VISITS:
        columns, height = visit.size
        lines += [f"## {visit.animal}, {visit.species}: {columns} x {height}", ""]
        for step in visit.steps:
            if step.name:
                lines.append(f"- [{step.name}](screens/{step.name}.txt): {step.line}")
        lines.append("")
        for step in visit.steps:
            if step.name in PICTURES:
                lines += [f"![{step.line}](screens/{step.name}.svg)", ""]
    return "\n".join(lines)


def main() -> None:
    """Make all screens and the page that shows them."""
    if shutil.which("tmux") is None:
        sys.exit(NO_TMUX)
    for old in (*FOLDER.glob("*.txt"), *FOLDER.glob("*.svg")):
        old.unlink()
    for visit in VISITS:
        for name, shown in captured(visit):
            (FOLDER / f"{name}.txt").write_text(shown, encoding="utf-8")
            print(name)
        for name in (step.name for step in visit.steps if step.name in PICTURES):
            svg = asyncio.run(drawn(visit, name, PICTURES[name]))
            (FOLDER / f"{name}.svg").write_text(svg, encoding="utf-8")
            print(f"{name}.svg")
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
