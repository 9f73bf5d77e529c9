"""One line on top: whose mouth, how far, for how long, and whether it is listening."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Literal

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.anatomy import is_deciduous
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.text import harmless

Hearing = Literal["typing", "preparing", "listening", "stopped", "ended"]

_WORDS: dict[Hearing, str] = {
    "typing": "○ TYPING ONLY",
    "preparing": "◌ GETTING READY",
    "listening": "● LISTENING",
    "stopped": "✗ NOT LISTENING",
    "ended": "○ SOUND HAS ENDED",
}


class Status(Widget):
    """The line on top. `now` tells the time, which is counted from when the case was opened."""

    COMPONENT_CLASSES = {"status--stopped"}  # noqa: RUF012
    DEFAULT_CSS = """
    Status {
        height: 1;
        padding: 0 1;
        background: $panel;
        text-style: bold;
        text-wrap: nowrap;
        .status--stopped { color: white; background: $error; }
    }
    """

    chart: reactive[Chart | None] = reactive(None)
    hearing: reactive[Hearing] = reactive("typing")

    def __init__(self, case: Case, now: Callable[[], datetime]) -> None:
        super().__init__()
        self._case = case
        self._now = now

    def on_mount(self) -> None:
        """Keep the clock going."""
        self.set_interval(1, self.refresh)

    def render(self) -> Content:
        """Draw the line; where it is too long, the animal's name is cut."""
        hearing = _WORDS[self.hearing]
        style = self.get_visual_style("status--stopped") if self.hearing == "stopped" else ""
        middle = f"{self._progress()}   {self._time()}"
        room = self.size.width - len(middle) - len(hearing) - 6
        name = Content(harmless(self._case.animal or self._case.id))
        name = name.truncate(max(4, room - len(self._case.species) - 2), ellipsis=True)
        whose = Content.assemble(name, f", {self._case.species}")
        gap = " " * max(2, (room - whose.cell_length) // 2 + 3)
        left = Content.assemble(whose, gap, middle)
        space = " " * max(1, self.size.width - left.cell_length - len(hearing))
        return Content.assemble(left, space, (hearing, style))

    def _progress(self) -> str:
        if self.chart is None:
            return ""
        teeth = len(self.chart.anatomy.permanent_teeth)
        charted = sum(not is_deciduous(tooth) for tooth in self.chart.charted_teeth)
        skipped = len(self.chart.skipped - self.chart.charted_teeth)
        words = f"{charted} of {teeth} teeth charted"
        return f"{words}, {skipped} skipped" if skipped else words

    def _time(self) -> str:
        seconds = max(0, int((self._now() - self._case.opened).total_seconds()))
        return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
