"""A proposal for a tooth, and what a clinician decides on it."""

from __future__ import annotations

from typing import ClassVar, Literal, TypeAlias

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Input

from dictate.assessment.assessment import DecidedProposal
from dictate.assessment.words import charted_since
from dictate.chart.events import Decided, Decision
from dictate.text import harmless

Choice: TypeAlias = Literal["accept", "change", "dismiss"]
CHOICES: tuple[Choice, ...] = ("accept", "change", "dismiss")

_STATES = {
    "open": "○ waits for a decision",
    "accepted": "✓ accepted",
    "changed": "✓ changed",
    "dismissed": "✗ dismissed",
}
_INDENT = "     "
_MOST_CHARACTERS = 300


def text_to_do(item: DecidedProposal) -> str:
    """Return what is to be done, as it was decided, else as it is proposed."""
    decided = item.decided
    return decided.text if decided and decided.text else item.proposal.step


class ProposalFace(Widget):
    """The lines of a proposal: its tooth, its state and what can be done with it, its text, and
    the source of its rule."""

    COMPONENT_CLASSES = {"proposal--choice", "proposal--source", "proposal--tooth"}  # noqa: RUF012
    DEFAULT_CSS = """
    ProposalFace {
        height: auto;
        .proposal--tooth { text-style: bold; }
        .proposal--choice { text-style: bold underline; }
        .proposal--source { color: $secondary; }
    }
    """
    ALLOW_SELECT = False

    item: reactive[DecidedProposal | None] = reactive(None, layout=True)
    chosen: reactive[bool] = reactive(False)

    class Clicked(Message):
        """The face was clicked; `choice` where that was on one."""

        def __init__(self, choice: Choice | None) -> None:
            super().__init__()
            self.choice = choice

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines that it takes."""
        return len(self._lines(width))

    def on_click(self, event: events.Click) -> None:
        """Tell what was clicked."""
        event.stop()
        at = self._choices_at(self.size.width)
        places = zip(CHOICES, at, strict=True)
        under = [c for c, column in places if event.y == 0 and 0 <= event.x - column < len(c)]
        self.post_message(self.Clicked(under[0] if under else None))

    def render(self) -> Content:
        """Draw the lines."""
        return Content("\n").join(self._lines(self.size.width))

    def _choices_at(self, width: int) -> list[int]:
        """Return the column of each choice on the first line, at its right end."""
        columns: list[int] = []
        column = width
        for choice in reversed(CHOICES):
            column -= len(choice) + 2
            columns.insert(0, column)
        return columns

    def _lines(self, width: int) -> list[Content]:
        item = self.item
        if item is None:
            return []
        room = max(20, width - len(_INDENT) - 1)
        dim = self.get_visual_style("proposal--source")
        texts = [Content(harmless(line)) for line in _texts(item)]
        source = Content.styled(f"Source: {item.proposal.source}", dim)
        wrapped = [line for text in (*texts, source) for line in text.wrap(room)]
        return [self._head(item, width), *(Content(_INDENT) + line for line in wrapped)]

    def _head(self, item: DecidedProposal, width: int) -> Content:
        mark = "▸" if self.chosen else " "
        tooth = (f"{mark}{item.proposal.tooth} ", self.get_visual_style("proposal--tooth"))
        head = Content.assemble(tooth, _STATES[item.state])
        style = self.get_visual_style("proposal--choice")
        for choice, column in zip(CHOICES, self._choices_at(width), strict=True):
            gap = " " * max(1, column - head.cell_length)
            head = Content.assemble(head, gap, (choice, style))
        return head


def _texts(item: DecidedProposal) -> list[str]:
    """Return what is proposed and, where it differs, what was decided in its stead."""
    lines = [item.proposal.text]
    if item.state == "changed" and item.decided:
        lines.append(f"Changed to: {item.decided.text}")
    if since := charted_since(item.proposal.answered_by):
        lines.append(f"{since.capitalize()}.")
    if not item.follows:
        lines.append("The findings as they stand no longer propose this: decide again.")
    return lines


class ProposalRow(Vertical, can_focus=True):
    """A proposal that can be accepted, changed in place, or dismissed."""

    DEFAULT_CSS = """
    ProposalRow { height: auto; margin: 0 0 1 0; padding: 0 1; }
    ProposalRow:focus, ProposalRow:focus-within { background: $panel; }
    ProposalRow Input, ProposalRow Input:focus {
        background: $foreground;
        color: $background;
        margin: 0 0 0 5;
        &>.input--cursor { background: $background; color: $foreground; }
        &>.input--placeholder { color: $background; }
    }
    """
    BINDINGS: ClassVar = [
        Binding("ctrl+a", "app.decide('accept')"),
        Binding("ctrl+e", "app.decide('change')"),
        Binding("ctrl+x", "app.decide('dismiss')"),
        Binding("ctrl+t", "app.accept_alike"),
        Binding("up", "app.choose(-1)"),
        Binding("down", "app.choose(1)"),
    ]

    item: reactive[DecidedProposal | None] = reactive(None)

    class Chosen(Message):
        """A decision on the proposal of a row was made."""

        def __init__(self, row: ProposalRow, what: Decided) -> None:
            super().__init__()
            self.row = row
            self.what = what

    class EditingChanged(Message):
        """The text of a row began to be changed, or is not being changed any more."""

    class Refused(Message):
        """A text could not be kept; `sentence` says why."""

        def __init__(self, sentence: str) -> None:
            super().__init__()
            self.sentence = sentence

    def __init__(self, item: DecidedProposal) -> None:
        super().__init__()
        self.set_reactive(ProposalRow.item, item)

    @property
    def key(self) -> tuple[int, str]:
        """The tooth and the rule of its proposal."""
        assert self.item
        return self.item.proposal.tooth, self.item.proposal.rule

    @property
    def is_editing(self) -> bool:
        """Whether its text is being changed."""
        return bool(self.query(Input))

    def compose(self) -> ComposeResult:
        """Lay out the face; the line to change the text on comes below it when asked for."""
        face = ProposalFace()
        face.item = self.item
        yield face

    def watch_item(self, item: DecidedProposal | None) -> None:
        """Show another state."""
        for face in self.query(ProposalFace):
            face.item = item

    def on_descendant_focus(self) -> None:
        """Stay marked while the text is being changed."""
        self._mark(True)

    def on_focus(self) -> None:
        """Mark that decisions go to this row."""
        self._mark(True)

    def on_blur(self) -> None:
        """Mark that they go elsewhere."""
        self._mark(self.is_editing)

    def _mark(self, chosen: bool) -> None:
        for face in self.query(ProposalFace):
            face.chosen = chosen

    @on(ProposalFace.Clicked)
    def _take_click(self, message: ProposalFace.Clicked) -> None:
        message.stop()
        if not self.is_editing:
            self.focus(scroll_visible=False)
        if message.choice:
            self.decide(message.choice)

    def decide(self, choice: Choice) -> None:
        """Tell what was decided; to change it, open the line with its text first."""
        if choice == "change":
            self._edit()
        elif not self.is_editing:
            self._tell("accepted" if choice == "accept" else "dismissed")

    def _tell(self, decision: Decision, text: str = "") -> None:
        assert self.item
        tooth, rule = self.key
        words = self.item.proposal.step if decision == "accepted" else text
        decided = Decided(tooth=tooth, rule=rule, decision=decision, text=words)
        self.post_message(self.Chosen(self, decided))

    def _edit(self) -> None:
        if self.item is None or self.is_editing:
            return
        line = Input(
            text_to_do(self.item),
            restrict=r"[^\x00-\x1f\x7f-\x9f]*",
            max_length=_MOST_CHARACTERS,
            compact=True,
            select_on_focus=False,
        )
        self.mount(line)
        line.focus(scroll_visible=False)
        self.post_message(self.EditingChanged())
        self.call_after_refresh(line.scroll_visible, animate=False)

    @on(Input.Submitted)
    def _take_text(self, event: Input.Submitted) -> None:
        event.stop()
        self.keep_text()

    def keep_text(self) -> None:
        """Tell the text as it was changed; one that was left as proposed is accepted."""
        assert self.item
        text = self.query_one(Input).value.strip()
        if not text:
            self.post_message(self.Refused("Write what is to be done, or Esc, then dismiss it."))
        elif text == self.item.proposal.step:
            self._tell("accepted")
        else:
            self._tell("changed", text)

    def stop_editing(self) -> None:
        """Take the line away; what was typed on it and not kept is gone."""
        if self.is_editing:
            self.query(Input).remove()
            self.focus(scroll_visible=False)
            self.call_after_refresh(self.post_message, self.EditingChanged())
