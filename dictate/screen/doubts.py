"""The open doubts: what is asked, what was said, and what a yes would chart."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.anatomy import Anatomy
from dictate.screen.account import asked_together, planned_words
from dictate.session.doubts import Doubt, held_instead
from dictate.session.statement_words import READINGS
from dictate.text import harmless

_KEYS = {2: "F9", 3: "F12"}
"""The other readings of what is asked about, by number, with the keys that choose them."""


def question_of(doubt: Doubt) -> str:
    """Return what is asked about a doubt."""
    return harmless(doubt.heard.reason or "Is this right?")


class Doubts(Widget):
    """The doubt that the next yes or no settles, and how many others are open. Hidden while
    there is none."""

    COMPONENT_CLASSES = {"doubts--question"}  # noqa: RUF012
    DEFAULT_CSS = """
    Doubts {
        height: auto;
        max-height: 9;
        padding: 0 1;
        color: black;
        background: $warning;
        display: none;
        .doubts--question { text-style: bold; }
    }
    Doubts.-open { display: block; }
    """

    doubts: reactive[tuple[Doubt, ...]] = reactive((), layout=True)

    def __init__(self, anatomy: Anatomy) -> None:
        super().__init__()
        self._anatomy = anatomy

    def watch_doubts(self, doubts: Sequence[Doubt]) -> None:
        """Appear with the first doubt and go with the last."""
        self.set_class(bool(doubts), "-open")

    def render(self) -> Content:
        """Draw the question that waits for an answer."""
        asked = asked_together(self.doubts)
        if not asked:
            return Content()
        anatomy = self._anatomy
        question = question_of(asked[0])
        words = " · ".join(f"“{harmless(each.heard.text)}”" for each in asked)
        statements = [line for each in asked for line in each.heard.statements]
        instead = [
            f"\n  or {number} charts  {planned_words(held_instead(asked, number), anatomy)}"
            f" · say “the {name}”, press {_KEYS[number]} or type {number}"
            for number, name in READINGS.items()
            if number in asked[0].readings
        ]
        others = len(self.doubts) - len(asked)
        waiting = f"   ({others} more after this)" if others else ""
        return Content.assemble(
            (f"? {question}", self.get_visual_style("doubts--question")),
            f"\n  heard  {words}",
            f"\n  YES charts  {planned_words(statements, anatomy)}",
            *instead,
            f"\n  Say yes or press F2 · say no or press F3{waiting}",
        )
