"""A view: what the middle of the screen shows instead of the chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from rapidfuzz import fuzz
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from dictate.session.session import Session
from dictate.text import harmless

_ALIKE_ENOUGH = 75
"""The least likeness, of 100, of what was searched for and a row that does not hold its words."""

_INDENT = "    "
_BESIDE_ROWS, _LEAST_WIDTH = 3, 24
"""The columns that padding and scroll bar take, and those that a row is given even so."""


class Shown(Widget):
    """A view with a title on top. Hidden until it is opened."""

    DEFAULT_CSS = """
    Shown {
        layout: vertical;
        height: 1fr;
        display: none;
        .view-title { height: 1; padding: 0 1; text-style: bold; background: $panel; }
    }
    """

    def show(self, session: Session) -> None:
        """Show the session as it stands."""

    def open(self) -> None:
        """Take the keyboard; called once the view is in sight."""


@dataclass(frozen=True)
class Row:
    """A row of a list: what it is about, what there is to say of it, and further lines below.
    `found_by` are more words that a search finds it by."""

    key: str
    about: str
    words: str = ""
    below: tuple[str, ...] = ()
    found_by: str = ""

    def matches(self, wanted: str) -> bool:
        """Return whether a search finds the row: all its words stand in it, or nearly so."""
        text = " ".join((self.about, self.words, *self.below, self.found_by)).casefold()
        words = wanted.casefold().split()
        if all(word in text for word in words):
            return True
        return len(wanted) > 3 and fuzz.partial_ratio(wanted.casefold(), text) >= _ALIKE_ENOUGH

    def content(self, width: int) -> Content:
        """Return the row as it is drawn in so many columns; what goes on below is set in."""
        words = f"  {harmless(self.words)}" if self.words else ""
        head = Content.assemble((harmless(self.about), "bold"), words)
        room = max(_LEAST_WIDTH, width) - len(_INDENT)
        first, *more = head.wrap(room)
        below = [line for each in self.below for line in Content(harmless(each)).wrap(room)]
        return Content("\n").join([first, *(Content(_INDENT) + line for line in (*more, *below))])


class Rows(OptionList):
    """The rows of a list; the chosen one is reversed."""

    DEFAULT_CSS = """
    Rows, Rows:focus {
        height: 1fr;
        padding: 0 1;
        border: none;
        background: $background;
        background-tint: $background 0%;
        color: $foreground;
        scrollbar-size-vertical: 1;
        &>.option-list--option-highlighted, &>.option-list--option-hover-highlighted {
            color: $background; background: $foreground; text-style: bold;
        }
        &>.option-list--option-hover { background: $panel; }
        &>.option-list--separator { color: $secondary; }
        &>.option-list--option-disabled { color: $secondary; text-style: bold; }
    }
    """


class Listing(Shown):
    """A list that can be searched: what is typed narrows it, the arrows choose a row, and Enter
    does with it what `choose` does."""

    BINDINGS: ClassVar = [
        Binding("up", "move('cursor_up')", show=False),
        Binding("down", "move('cursor_down')", show=False),
        Binding("pageup", "move('page_up')", show=False, priority=True),
        Binding("pagedown", "move('page_down')", show=False, priority=True),
    ]
    DEFAULT_CSS = """
    Listing .view-search, Listing .view-search:focus {
        height: 1;
        padding: 0 1;
        border: none;
        background: $panel;
        background-tint: $background 0%;
        color: $foreground;
        &>.input--placeholder { color: $secondary; }
    }
    """

    title: ClassVar[str] = ""
    searched: ClassVar[str] = "type to search"
    none: ClassVar[str] = "Nothing is found."

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[Row, ...] = ()
        self._drawn: tuple[Row, ...] = ()

    def compose(self) -> ComposeResult:
        """Lay out the title, the search and the rows."""
        yield Static(self.title, classes="view-title", markup=False)
        yield Input(placeholder=self.searched, compact=True, classes="view-search")
        yield Rows(markup=False)

    def open(self) -> None:
        """Begin with all rows and an empty search."""
        self.search.value = ""
        self.search.focus()
        self._draw(first=True)

    @property
    def search(self) -> Input:
        """The line to type on what is searched for."""
        return self.query_one(".view-search", Input)

    @property
    def rows(self) -> Rows:
        """The list."""
        return self.query_one(Rows)

    @property
    def chosen(self) -> Row | None:
        """The row that is chosen, None where there is none."""
        place = self.rows.highlighted
        return None if place is None or place >= len(self._drawn) else self._drawn[place]

    def take_rows(self, rows: Sequence[Row]) -> None:
        """Show other rows; the one that was chosen stays chosen."""
        if tuple(rows) != self._rows:
            self._rows = tuple(rows)
            self._draw()

    def choose(self, row: Row) -> None:
        """Do what Enter does with a row."""

    def on_resize(self) -> None:
        """Fit the rows to the new width."""
        self._draw()

    def action_move(self, how: str) -> None:
        """Choose another row."""
        getattr(self.rows, f"action_{how}")()

    @on(Input.Changed, ".view-search")
    def _take_search(self) -> None:
        self._draw(first=True)

    @on(Input.Submitted, ".view-search")
    def _take_enter(self, event: Input.Submitted) -> None:
        event.stop()
        if self.chosen is not None:
            self.choose(self.chosen)

    @on(OptionList.OptionSelected)
    def _take_row(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.choose(self._drawn[event.option_index])

    def _draw(self, first: bool = False) -> None:
        chosen = None if first else self.chosen
        wanted = self.search.value.strip()
        self._drawn = tuple(row for row in self._rows if row.matches(wanted))
        self.rows.clear_options()
        width = self.size.width - _BESIDE_ROWS
        self.rows.add_options(Option(row.content(width), id=row.key) for row in self._drawn)
        if not self._drawn:
            self.rows.add_option(Option(self.none, disabled=True))
            return
        keys = [row.key for row in self._drawn]
        self.rows.highlighted = keys.index(chosen.key) if chosen and chosen.key in keys else 0
