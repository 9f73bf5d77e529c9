"""The list of cases: search, choose, look at what changed since the last visit, open or begin."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, TypeVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container, Horizontal
from textual.screen import ModalScreen
from textual.timer import Timer
from textual.widgets import Input, Label, Static

from dictate.cases.visits import Visit, side_by_side, stored_visit, visits_before
from dictate.errors import DictateError
from dictate.history.same_animal import EarlierVisits
from dictate.screen.case_choice import BeginCase, CaseChoice, OpenCase
from dictate.screen.case_form import CaseForm, known_of
from dictate.screen.case_panel import (
    CasePanel,
    case_lines,
    compared_lines,
    not_compared_lines,
    possible_lines,
)
from dictate.screen.case_table import CaseTable
from dictate.screen.keys import Key, Keys
from dictate.screen.plain_end import PlainEnd
from dictate.screen.problems import Problems
from dictate.screen.theme import DARK, LIGHT
from dictate.store.case_query import query_of
from dictate.store.cases import CaseStore

_Found = TypeVar("_Found")

MOST_SHOWN = 200
_REST_S = 0.12
"""How long a row is chosen before its case is read: who holds an arrow down passes by many."""
_PAGE = 8

_MOVES = (
    Key("↑", "up", "screen.step(-1)"),
    Key("↓", "down", "screen.step(1)"),
    Key("PgUp", "read", "screen.read(-1)", spare=True),
    Key("PgDn", "read", "screen.read(1)", spare=True),
    Key("^P", "possible", "screen.possible"),
)
OPENING_KEYS = (
    Key("Enter", "open", "screen.open"),
    Key("^N", "new", "screen.new"),
    Key("^R", "new visit", "screen.new_visit"),
    *_MOVES,
    Key("F6", "light", "app.turn_light", spare=True),
    Key("Esc", "leave", "screen.leave"),
)
LOOKING_KEYS = (*_MOVES, Key("Esc", "back", "screen.leave"))


class CaseList(ModalScreen[CaseChoice | None]):
    """The cases of a store. Its result is what was chosen, None where it was left; without
    `open_case` it is for looking only, and its result is None."""

    DEFAULT_CSS = """
    CaseList {
        background: $background;
        color: $foreground;
        #cases-title { height: 1; padding: 0 1; text-style: bold; background: $panel; }
        #find { height: 1; background: $panel; }
        #find Label { padding: 0 1; text-style: bold; }
        #find Input, #find Input:focus { width: 1fr; background: $panel; color: $foreground; }
        #find Input>.input--placeholder { color: $secondary; }
        #cases-body { height: 1fr; layout: vertical; }
        CaseTable { height: auto; min-height: 4; max-height: 40%; }
        CasePanel { border-top: solid $secondary; }
    }
    CaseList.-wide {
        #cases-body { layout: horizontal; }
        CaseTable { width: 79; height: 1fr; max-height: 100%; }
        CasePanel { width: 1fr; border-top: none; border-left: solid $secondary; }
    }
    """
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (112, "-wide")]  # noqa: RUF012
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", priority=True),
        Binding("up", "step(-1)", priority=True),
        Binding("down", "step(1)", priority=True),
        Binding("ctrl+up", f"step(-{_PAGE})", priority=True),
        Binding("ctrl+down", f"step({_PAGE})", priority=True),
        Binding("pageup", "read(-1)", priority=True),
        Binding("pagedown", "read(1)", priority=True),
        Binding("ctrl+n", "new", priority=True),
        Binding("ctrl+r", "new_visit", priority=True),
        Binding("ctrl+p", "possible", priority=True),
        Binding("f6", "app.turn_light", priority=True),
        Binding("escape", "leave", priority=True),
        Binding("ctrl+q", "app.quit", priority=True),
    ]

    def __init__(self, store: CaseStore, open_case: bool = True) -> None:
        super().__init__()
        self._store = store
        self._open_case = open_case
        self._resting: Timer | None = None
        self._visit: Visit | None = None
        self._before = EarlierVisits((), ())
        self._possible_shown = -1
        self._searched = ""

    def compose(self) -> ComposeResult:
        """Lay out the search above the table and the chosen case."""
        yield Static("Cases", id="cases-title", markup=False)
        yield Problems()
        with Horizontal(id="find"):
            yield Label("Find >", markup=False)
            yield Input(
                placeholder="animal, owner reference, breed, clinician, 2026-05 or 2026-05-04",
                max_length=200,
                compact=True,
                restrict=r"[^\x00-\x1f\x7f-\x9f]*",
            )
        with Container(id="cases-body"):
            yield CaseTable()
            yield CasePanel()
        yield Keys()

    def on_mount(self) -> None:
        """Show all cases."""
        keys = self.query_one(Keys)
        keys.keys = OPENING_KEYS if self._open_case else LOOKING_KEYS
        self.query_one(Input).focus()
        self._search("")

    @on(Input.Changed)
    def _take_words(self, message: Input.Changed) -> None:
        self._search(message.value)

    def _search(self, text: str) -> None:
        self._searched = text
        found = self._try(lambda: self._store.search(query_of(text), MOST_SHOWN))
        if found is None:
            return
        shown = len(found.summaries)
        words = f"{shown} of {found.total}: type to narrow" if shown < found.total else str(shown)
        none = "none fits" if text.strip() else "none yet"
        purpose = "" if self._open_case else " · to look at only"
        self.query_one("#cases-title", Static).update(
            f"Cases · {words if shown else none}{purpose}"
        )
        self.query_one(CaseTable).show(found.summaries)
        self._rest()

    @on(CaseTable.RowHighlighted)
    def _rest(self) -> None:
        """Read the chosen case once the choice rests."""
        if self._resting is not None:
            self._resting.stop()
        self._resting = self.set_timer(_REST_S, self._read_chosen)

    def _read_chosen(self) -> None:
        chosen = self.query_one(CaseTable).chosen
        if chosen is None:
            self._visit = None
            self.query_one(CasePanel).show((), ())
            return
        if self._visit is not None and self._visit.case.id == chosen.case.id:
            return
        self._visit = self._try(lambda: stored_visit(self._store, chosen.case.id))
        self._possible_shown = -1
        if self._visit is None:
            self.query_one(CasePanel).show((), ())
            return
        case = self._visit.case
        self._before = self._try(lambda: visits_before(self._store, case)) or EarlierVisits((), ())
        if self._before.last is None:
            lines = not_compared_lines(case, self._before)
            self.query_one(CasePanel).show(case_lines(self._visit), lines)
        else:
            self._compare(self._before.last.case.id)

    def _compare(self, earlier_id: str) -> None:
        """Show the chosen case beside an earlier one."""
        visit = self._visit
        if visit is None:
            return
        found = self._try(lambda: side_by_side(self._store, visit, earlier_id))
        lines = compared_lines(found) if found else ()
        panel = self.query_one(CasePanel)
        panel.show(case_lines(visit), (*lines, *possible_lines(self._before)))

    def _try(self, do: Callable[[], _Found]) -> _Found | None:
        """Return what the store gives; None where it cannot, which the screen then says."""
        problems = self.query_one(Problems)
        try:
            result = do()
        except DictateError as error:
            problems.tell("store", str(error))
            return None
        problems.clear("store")
        return result

    def action_step(self, rows: int) -> None:
        """Choose a case further down or up."""
        self.query_one(CaseTable).step(rows)

    def action_read(self, pages: int) -> None:
        """Scroll the chosen case."""
        panel = self.query_one(CasePanel)
        panel.scroll_relative(y=pages * max(1, panel.size.height - 1), animate=False)

    def action_possible(self) -> None:
        """Compare with the next earlier visit that may be of the same animal, then again the
        first."""
        self._read_chosen()
        possible = self._before.possible if self._visit else ()
        if possible:
            self._possible_shown = (self._possible_shown + 1) % len(possible)
            self._compare(possible[self._possible_shown].case.id)

    @on(CaseTable.Picked)
    def _take_pick(self) -> None:
        self.action_open()

    def action_open(self) -> None:
        """Open the chosen case; not one that is about to make room for what was just typed."""
        if self.query_one(Input).value != self._searched:
            return
        chosen = self.query_one(CaseTable).chosen
        if self._open_case and chosen is not None:
            self.dismiss(OpenCase(chosen.case.id))

    def action_new(self) -> None:
        """Ask for a new case."""
        self._ask({"index_scale": "4"})

    def action_new_visit(self) -> None:
        """Ask for a new case of the chosen animal."""
        chosen = self.query_one(CaseTable).chosen
        if chosen is not None:
            self._ask(known_of(chosen.case))

    def _ask(self, known: dict[str, str]) -> None:
        def begin(fields: dict[str, Any] | None) -> None:
            if fields is not None:
                self.dismiss(BeginCase(fields))

        if self._open_case:
            self.app.push_screen(CaseForm(known), begin)

    def action_leave(self) -> None:
        """Choose nothing."""
        self.dismiss(None)

    def on_click(self, _event: events.Click) -> None:
        """Keep the line to type on in hand."""
        self.query_one(Input).focus()


class CasesApp(PlainEnd[CaseChoice | None]):
    """The list of cases as a program of its own; it ends with what was chosen."""

    TITLE = "dictate"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, store: CaseStore) -> None:
        super().__init__()
        self._store = store
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = DARK.name

    def on_mount(self) -> None:
        """Show the list."""
        self.push_screen(CaseList(self._store), self.exit)

    def action_turn_light(self) -> None:
        """Change between the dark and the light theme."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name
