"""What follows from the visit so far: what is left, stages, questions, proposals and the plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.geometry import Size
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Static

from dictate.assessment.assessment import DecidedProposal, assess
from dictate.chart.anatomy import Anatomy
from dictate.screen.account import SIGN_OF, Account
from dictate.screen.follow_words import (
    TO_DECIDE,
    Line,
    left_lines,
    plan_lines,
    progress_lines,
    question_lines,
    stage_lines,
)
from dictate.screen.proposal import ProposalRow
from dictate.screen.view import Shown
from dictate.session.session import Session
from dictate.text import harmless

_MOST_LINES = 2


class Lines(Static):
    """A heading and the lines below it, each set in below what it is about."""

    COMPONENT_CLASSES = {"lines--heading", "lines--about", "lines--source"}  # noqa: RUF012
    DEFAULT_CSS = """
    Lines {
        height: auto;
        padding: 0 1;
        margin: 0 0 1 0;
        .lines--heading { text-style: bold reverse; }
        .lines--about { text-style: bold; }
        .lines--source { color: $secondary; }
    }
    """

    lines: reactive[tuple[Line, ...]] = reactive((), layout=True)

    def __init__(self, heading: str, none: str) -> None:
        super().__init__()
        self._heading = heading
        self._none = none

    def render(self) -> Content:
        """Draw the lines, or the words for none."""
        drawn = [Content.styled(f" {self._heading} ", self.get_visual_style("lines--heading"))]
        for line in self.lines:
            drawn += self._draw(line)
        if not self.lines:
            drawn.append(Content(self._none))
        return Content("\n").join(drawn)

    def _draw(self, line: Line) -> list[Content]:
        about = self.get_visual_style("lines--about")
        style = self.get_visual_style("lines--source") if line.source else ""
        indent = "  " if line.source else ""
        head = f"{line.about}: " if line.about and line.words else line.about
        text = Content.assemble((head, about), (f"{indent}{harmless(line.words)}", style))
        first, *rest = text.wrap(max(20, self.content_size.width - 2)) or [Content()]
        return [first, *(Content("  ") + each for each in rest)]


class LatestHeard(Widget):
    """The words so far of what is being said, else what became of the latest utterance."""

    DEFAULT_CSS = """
    LatestHeard {
        height: auto;
        padding: 0 1;
        background: $panel;
        text-style: bold;
        display: none;
    }
    """

    words: reactive[str] = reactive("", layout=True)
    account: reactive[Account | None] = reactive(None, layout=True)

    def render(self) -> Content:
        """Draw the line."""
        lines = Content(harmless(self._sentence())).wrap(max(10, self.content_size.width))
        if len(lines) > _MOST_LINES:
            room = max(4, self.content_size.width - 2)
            lines = [*lines[: _MOST_LINES - 1], lines[_MOST_LINES - 1].truncate(room) + " …"]
        return Content("\n").join(lines)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines that it takes."""
        return min(_MOST_LINES, len(Content(harmless(self._sentence())).wrap(max(10, width))))

    def _sentence(self) -> str:
        if self.words:
            return f"» {self.words} …"
        if self.account is None:
            return "nothing heard yet"
        account = self.account
        since = f" – {account.since}" if account.since else ""
        sign = f"{SIGN_OF[account.outcome]} {account.outcome}"
        result = f": {account.result}" if account.result else ""
        return f"{sign}  “{account.words}”{since}{result}"


class Body(VerticalScroll):
    """The part that scrolls; its arrows choose a proposal, where there are any."""

    BINDINGS: ClassVar = [Binding("up", "app.choose(-1)"), Binding("down", "app.choose(1)")]


class Proposals(Vertical):
    """The proposals by tooth, a row each."""

    DEFAULT_CSS = """
    Proposals { height: auto; }
    """

    def show(self, items: Sequence[DecidedProposal]) -> None:
        """Show proposals: rows that stay keep their place, and the text that is being changed."""
        rows = {row.key: row for row in self.query(ProposalRow)}
        wanted = {(item.proposal.tooth, item.proposal.rule) for item in items}
        for key, row in rows.items():
            if key not in wanted:
                self._let_go(row)
        before: ProposalRow | None = None
        for item in items:
            row_there = rows.get((item.proposal.tooth, item.proposal.rule))
            if row_there is None:
                row_there = ProposalRow(item)
                if before is not None:
                    self.mount(row_there, after=before)
                else:
                    self.mount(row_there, before=0 if self.children else None)
            else:
                row_there.item = item
            before = row_there

    def _let_go(self, row: ProposalRow) -> None:
        """Take a row away; where it was the chosen one, nothing is chosen: a key that was meant
        for it must not decide on another. A text that is being changed stays until it is done."""
        if row.is_editing and row.item is not None:
            row.item = replace(row.item, follows=False)
            return
        if row.has_focus:
            self.query_ancestor(Body).focus(scroll_visible=False)
        row.remove()


class Follows(Shown):
    """The view of what follows. It scrolls; its first line stays in sight."""

    DEFAULT_CSS = """
    Follows {
        #follows-title { height: 1; padding: 0 1; text-style: bold; background: $panel; }
        #follows-body { height: 1fr; scrollbar-size-vertical: 1; }
        #proposals-heading { height: 1; padding: 0 1; text-style: bold reverse; width: auto; }
        #no-proposals { height: auto; padding: 0 1; margin: 0 0 1 0; }
    }
    """

    def __init__(self, anatomy: Anatomy, since_start: Callable[[], str]) -> None:
        super().__init__()
        self._anatomy = anatomy
        self._since_start = since_start
        self._progress = Lines("Progress", "")
        self._left = Lines("Left to examine", "Nothing.")
        self._stages = Lines("Periodontal stages", "No tooth has one yet.")
        self._questions = Lines("Questions: does this fit together?", "None.")
        self._plan = Lines("Plan, as agreed; no doses", "Nothing is agreed yet.")

    def compose(self) -> ComposeResult:
        """Lay out the parts from top to bottom."""
        yield Static(f"What follows · {TO_DECIDE}", id="follows-title", markup=False)
        with Body(id="follows-body"):
            yield self._progress
            yield self._left
            yield self._stages
            yield self._questions
            yield Static(f" Proposals. {TO_DECIDE} ", id="proposals-heading", markup=False)
            yield Static("None yet.", id="no-proposals", markup=False)
            yield Proposals()
            yield self._plan

    @property
    def body(self) -> Body:
        """The part that scrolls."""
        return self.query_one(Body)

    def show(self, session: Session) -> None:
        """Show what follows now."""
        follows = assess(session.case, session.chart)
        self._progress.lines = tuple(
            progress_lines(follows, session.chart, len(session.doubts), self._since_start())
        )
        self._left.lines = tuple(left_lines(follows, self._anatomy))
        self._stages.lines = tuple(stage_lines(follows, self._anatomy))
        self._questions.lines = tuple(question_lines(follows))
        self._plan.lines = tuple(plan_lines(follows))
        many = len(follows.proposals)
        progress = f" · {follows.decided} of {many} decided" if many else ""
        self.query_one("#follows-title", Static).update(f"What follows · {TO_DECIDE}{progress}")
        self.query_one("#no-proposals").display = not follows.proposals
        self.query_one(Proposals).show(follows.proposals)

    def open(self) -> None:
        """Begin at the top, with the first proposal that waits as the chosen one."""
        self.body.scroll_home(animate=False)
        rows = list(self.query(ProposalRow))
        waiting = [row for row in rows if row.item and row.item.state == "open"]
        first = next(iter((*waiting, *rows)), None)
        (first or self.body).focus(scroll_visible=False)

    @property
    def chosen(self) -> ProposalRow | None:
        """The row that decisions go to: the one whose text is being changed, else the one with
        the focus."""
        rows = list(self.query(ProposalRow))
        editing = (row for row in rows if row.is_editing)
        return next(editing, next((row for row in rows if row.has_focus), None))

    def choose(self, step: int) -> None:
        """Choose the proposal before or after. Where the chosen one is out of sight, choose the
        first or the last of those in sight, else bring it back."""
        rows = list(self.query(ProposalRow))
        row = self.chosen
        seen = [each for each in rows if self.is_in_sight(each)]
        if row in seen:
            row = rows[max(0, min(len(rows) - 1, rows.index(row) + step))]
        elif seen:
            row = seen[0 if step > 0 else -1]
        elif row is None and rows:
            row = rows[0]
        if row is not None:
            row.focus(scroll_visible=False)
            self.bring_into_sight(row)
        else:
            self.body.scroll_relative(y=step, animate=False)

    def bring_into_sight(self, row: ProposalRow) -> None:
        """Scroll to a row, to its first line where there is no room for all of it."""
        tall = row.size.height > self.body.size.height
        self.body.scroll_to_widget(row, animate=False, top=tall)

    def is_in_sight(self, row: ProposalRow) -> bool:
        """Return whether a row is in sight, or as much of it as there is room for: what nobody
        sees is not decided on."""
        seen, here = self.body.region, row.region
        end = min(here.bottom, here.y + seen.height)
        return seen.y <= here.y and end <= seen.bottom and here.height > 0
