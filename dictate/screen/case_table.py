"""The cases as rows; the chosen one carries a mark."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widgets import DataTable

from dictate.cases.visits import day_of_visit
from dictate.store.cases import CaseSummary
from dictate.text import harmless

MARK = "▸"
_MARK_COLUMN = "mark"
_COLUMNS = (
    ("", 1),
    ("Opened", 10),
    ("Animal", 16),
    ("Species", 7),
    ("Breed", 12),
    ("Clinician", 12),
    ("Events", 6),
)
"""Headings and widths, which fit 80 columns with their gaps and the scroll bar."""


class CaseTable(DataTable[Text]):
    """Cases, the one opened last first. A click chooses a row, a double click opens it."""

    DEFAULT_CSS = """
    CaseTable {
        height: 1fr;
        scrollbar-size-vertical: 1;
        background: $background;
        &> .datatable--header { background: $panel; color: $foreground; text-style: bold; }
        &> .datatable--cursor, &:focus> .datatable--cursor {
            background: $foreground; color: $background; text-style: bold;
        }
        &> .datatable--odd-row, &> .datatable--even-row, &> .datatable--hover {
            background: $background;
        }
    }
    """
    can_focus = False

    class Picked(Message):
        """A row was clicked twice."""

    def __init__(self) -> None:
        super().__init__(cursor_type="row", cell_padding=1)
        self._summaries: tuple[CaseSummary, ...] = ()
        self._marked: str | None = None

    def on_mount(self) -> None:
        """Make the columns."""
        for heading, width in _COLUMNS:
            self.add_column(heading, width=width, key=heading or _MARK_COLUMN)

    @property
    def chosen(self) -> CaseSummary | None:
        """The case on the row of the cursor; None without rows."""
        row = self.cursor_row
        return self._summaries[row] if 0 <= row < len(self._summaries) else None

    def show(self, summaries: Sequence[CaseSummary]) -> None:
        """Show cases; the chosen one stays chosen where it is among them, else the first is."""
        before = self.chosen.case.id if self.chosen else None
        self.clear()
        self._summaries = tuple(summaries)
        self._marked = None
        for each in summaries:
            self.add_row(*_cells(each), key=each.case.id)
        ids = [each.case.id for each in summaries]
        self.move_cursor(row=ids.index(before) if before in ids else 0, animate=False)
        self._mark()

    def step(self, rows: int) -> None:
        """Choose the row so many further down, or the first or the last."""
        if self._summaries:
            row = max(0, min(len(self._summaries) - 1, self.cursor_row + rows))
            self.move_cursor(row=row, animate=False)

    def on_data_table_row_highlighted(self) -> None:
        """Move the mark to the chosen row."""
        self._mark()

    def on_click(self, event: events.Click) -> None:
        """Open on a double click."""
        if event.chain == 2 and event.style.meta.get("row", -1) >= 0:
            self.post_message(self.Picked())

    def _mark(self) -> None:
        chosen = self.chosen.case.id if self.chosen else None
        if chosen == self._marked:
            return
        for case_id, mark in ((self._marked, ""), (chosen, MARK)):
            if case_id is not None:
                self.update_cell(case_id, _MARK_COLUMN, Text(mark))
        self._marked = chosen


def _cells(summary: CaseSummary) -> list[Text]:
    case = summary.case
    words = (
        "",
        str(day_of_visit(case)),
        case.animal or "no name",
        case.species,
        case.breed,
        case.clinician,
        str(summary.events) if summary.events else "none",
    )
    cells = [Text(harmless(each), no_wrap=True) for each in words]
    for cell, (_, width) in zip(cells, _COLUMNS, strict=True):
        cell.truncate(width, overflow="ellipsis")
    return cells
