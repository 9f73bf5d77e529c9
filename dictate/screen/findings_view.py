"""The view of findings: all that stands, searched, edited in place and taken back."""

from __future__ import annotations

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, Label

from dictate.chart.anatomy import tooth_name
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.screen.signs import gravest_first
from dictate.screen.view import Listing, Row
from dictate.session.edit import Standing, standing_words
from dictate.session.session import Session


class FindingsView(Listing):
    """What stands, tooth by tooth. Enter edits the chosen one on a line of its own, and keeps it;
    what cannot be true stays on that line."""

    DEFAULT_CSS = """
    FindingsView {
        #edit-line { height: 1; background: $panel; display: none; }
        #edit-line Label { padding: 0 1; text-style: bold; }
        #edit, #edit:focus {
            width: 1fr;
            background: $panel;
            color: $foreground;
            &>.input--placeholder { color: $secondary; }
        }
        &.-editing #edit-line { display: block; }
    }
    """

    title: ClassVar[str] = "Findings · type to search · Enter edits · ^X takes back · Esc back"
    searched: ClassVar[str] = "search: 208, fracture, pocket, upper left …"
    none: ClassVar[str] = "No finding."

    class Edited(Message):
        """A text is to stand instead of what stands; "" takes it back."""

        def __init__(self, standing: Standing, text: str) -> None:
            super().__init__()
            self.standing = standing
            self.text = text

    def __init__(self) -> None:
        super().__init__()
        self._standing: dict[str, Standing] = {}
        self._edited: Standing | None = None

    def compose(self) -> ComposeResult:
        """Lay out the list, and below it the line to edit on."""
        yield from super().compose()
        with Horizontal(id="edit-line"):
            yield Label("", markup=False)
            yield Input(id="edit", compact=True, max_length=400)

    @property
    def is_editing(self) -> bool:
        """Whether a finding is being edited."""
        return self._edited is not None

    def show(self, session: Session) -> None:
        """Show all that stands."""
        self._standing = _by_key(session.chart)
        self.take_rows([_row(key, each) for key, each in self._standing.items()])

    def choose(self, row: Row) -> None:
        """Edit the chosen one."""
        standing = self._standing.get(row.key)
        if standing is None:
            return
        self._edited = standing
        self.add_class("-editing")
        tooth = f"{standing.tooth} " if isinstance(standing, Finding) else ""
        self.query_one("#edit-line Label", Label).update(f"{tooth}>")
        line = self.query_one("#edit", Input)
        line.value = standing.words()
        line.cursor_position = len(line.value)
        line.focus()

    def done(self) -> None:
        """End editing."""
        self._edited = None
        self.remove_class("-editing")
        self.search.focus()

    def take_back(self) -> None:
        """Take the chosen one back; undo brings it back."""
        standing = self._edited or (self._standing.get(self.chosen.key) if self.chosen else None)
        if standing is not None:
            self.post_message(self.Edited(standing, ""))

    @on(Input.Submitted, "#edit")
    def _take_edited(self, event: Input.Submitted) -> None:
        event.stop()
        if self._edited is not None and event.value.strip():
            self.post_message(self.Edited(self._edited, event.value))


def _by_key(chart: Chart) -> dict[str, Standing]:
    """Return what stands, in the order of charting the mouth, each by a key that stays its own."""
    anatomy = chart.anatomy
    teeth = (*anatomy.permanent_teeth, *anatomy.deciduous_teeth)
    findings = [each for tooth in teeth for each in gravest_first(chart, chart.on(tooth))]
    by_key: dict[str, Standing] = {
        f"{each.tooth}-{each.kind}-{each.site}": each for each in findings
    }
    seen = {f"seen-{place}": each for place, each in enumerate(chart.observations)}
    return {**by_key, **seen}


def _row(key: str, standing: Standing) -> Row:
    if isinstance(standing, Finding):
        words = standing.words()
        term = standing.row.terms.get(str(standing.value), "")
        return Row(key, str(standing.tooth), words, found_by=f"{tooth_name(standing.tooth)} {term}")
    return Row(key, "–", standing_words(standing))
