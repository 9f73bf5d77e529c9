"""The open doubts: what is asked, what was said, and what a yes would chart."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.anatomy import Anatomy
from dictate.doubts import Doubt
from dictate.screen.account import asked_together
from dictate.screen.happenings import statement_words
from dictate.text import harmless


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
        question = asked[0].heard.reason or "Is this right?"
        words = " · ".join(f"“{harmless(each.heard.text)}”" for each in asked)
        statements = [line for each in asked for line in each.heard.statements]
        planned = statement_words(statements, self._anatomy)
        others = len(self.doubts) - len(asked)
        waiting = f"   ({others} more after this)" if others else ""
        return Content.assemble(
            (f"? {harmless(question)}", self.get_visual_style("doubts--question")),
            f"\n  heard  {words}",
            f"\n  YES charts  {harmless(planned) or 'nothing'}",
            f"\n  Say yes or press F2 · say no or press F3{waiting}",
        )
