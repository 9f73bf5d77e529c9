"""One line on top: which part of the visit, whose mouth, how far, for how long, and whether it is
listening."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Literal

from textual import events
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.screen.parts import PARTS
from dictate.screen.signs import counted
from dictate.text import harmless

Hearing = Literal["typing", "preparing", "listening", "waiting", "speaking", "stopped", "ended"]
"""What comes of speech: "waiting" where a person said not to listen, "stopped" where a problem
did; "speaking" while the tool itself makes a sound."""

HEARING_WORDS: dict[Hearing, str] = {
    "typing": "○ TYPING ONLY",
    "preparing": "◌ GETTING READY",
    "listening": "● LISTENING",
    "waiting": "■ NOT LISTENING",
    "speaking": "♪ SPEAKING",
    "stopped": "✗ NOT LISTENING",
    "ended": "○ SOUND HAS ENDED",
}
_LEAST_NAME = 8


def time_since(start: datetime, now: datetime) -> str:
    """Return the time from a start until now as hours, minutes and seconds: "0:12:34"."""
    seconds = max(0, int((now - start).total_seconds()))
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"


class Status(Widget):
    """The line on top; a click on the part of the visit asks for the next one. `now` tells the
    time, which is counted from when the case was opened."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "status--stopped", "status--waiting", "status--speaking", "status--part", "status--note",
    }  # fmt: skip
    DEFAULT_CSS = """
    Status {
        height: 1;
        padding: 0 1 0 0;
        background: $panel;
        text-style: bold;
        text-wrap: nowrap;
        .status--stopped { color: white; background: $error; }
        .status--waiting { color: black; background: $warning; }
        .status--speaking { color: $background; background: $foreground; }
        .status--part { color: $background; background: $foreground; }
        .status--note { color: black; background: $warning; }
    }
    """
    ALLOW_SELECT = False

    chart: reactive[Chart | None] = reactive(None)
    hearing: reactive[Hearing] = reactive("typing")
    note: reactive[str] = reactive("")

    class PartClicked(Message):
        """The part of the visit was clicked."""

    def __init__(self, case: Case, now: Callable[[], datetime]) -> None:
        super().__init__()
        self._case = case
        self._now = now

    def on_mount(self) -> None:
        """Keep the clock going."""
        self.set_interval(1, self.refresh)

    def on_click(self, event: events.Click) -> None:
        """Tell that the part was clicked, if it was."""
        if event.x < len(self._part()):
            self.post_message(self.PartClicked())

    def render(self) -> Content:
        """Draw the line; where it is too long, words are left out and the name is cut."""
        hearing = HEARING_WORDS[self.hearing]
        marked = self.hearing in ("stopped", "waiting", "speaking")
        style = self.get_visual_style(f"status--{self.hearing}") if marked else ""
        if marked:
            hearing = f" {hearing} "
        part = self._part()
        stands_out = bool(self.note) or (self.chart is not None and self.chart.closed)
        part_style = self.get_visual_style("status--note" if stands_out else "status--part")
        room = self.size.width - len(part) - len(hearing) - 6
        least = _LEAST_NAME + len(self._case.species) + 2
        middle = next((each for each in self._middles() if len(each) + least <= room), "")
        room -= len(middle)
        name = Content(harmless(self._case.animal or self._case.id))
        name = name.truncate(max(4, room - len(self._case.species) - 2), ellipsis=True)
        whose = Content.assemble(name, f", {self._case.species}")
        gap = " " * max(2, (room - whose.cell_length) // 2 + 3)
        left = Content.assemble((part, part_style), "  ", whose, gap, middle)
        space = " " * max(1, self.size.width - left.cell_length - len(hearing))
        return Content.assemble(left, space, (hearing, style))

    def _part(self) -> str:
        if self.chart is None:
            return ""
        title = PARTS[self.chart.context].title.upper()
        if self.note:
            return f" {title}: {self.note} "
        if self.chart.closed:
            return f" {title}: closed as final "
        if self.chart.dentition != "permanent":
            return f" {title}: {self.chart.dentition} dentition "
        return f" {title} "

    def _middles(self) -> list[str]:
        """Return how far and for how long, the longest words first."""
        if self.chart is None:
            return [""]
        examined, expected, skipped = counted(self.chart)
        passed_over = f", {skipped} skipped" if skipped else ""
        long = f"{examined} of {expected} teeth charted{passed_over}"
        short = f"{examined} of {expected} charted{passed_over}"
        return [f"{long}   {self._time()}", f"{short}  {self._time()}", long, short]

    def _time(self) -> str:
        return time_since(self._case.opened, self._now())
