"""A small form for a new case."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import Any, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from dictate.chart.case import Case, entered_case
from dictate.errors import DictateError
from dictate.screen.keys import Key, Keys
from dictate.screen.problems import Problems
from dictate.session.session import now_utc

FIELDS = {
    "animal": ("Animal", "its name"),
    "species": ("Species", "dog or cat"),
    "breed": ("Breed", ""),
    "birth_date": ("Born", "such as 2021-03-28, where it is known"),
    "owner_reference": ("Owner reference", "the practice's own, such as K-1042; never a name"),
    "clinician": ("Clinician", "who examines"),
    "index_scale": ("Index scale", "top grade of the indices, 3 or 4"),
}
"""The fields of a case that are asked for, with their titles and what to write."""

_OF_THE_ANIMAL = ("animal", "species", "breed", "birth_date", "owner_reference")
_ALWAYS = ("species", "index_scale")
"""What nobody is to guess: where these are left empty, the form says so."""

_KEYS = (
    Key("^S", "begin the visit", "screen.begin"),
    Key("Enter", "next", "screen.next"),
    Key("↑", "up", "screen.move(-1)"),
    Key("↓", "down", "screen.move(1)"),
    Key("Esc", "back", "screen.leave"),
)


class CaseForm(ModalScreen[dict[str, Any] | None]):
    """Asks for a new case; its result are fields that `entered_case` takes, None where it was
    left. `known` fills fields in."""

    DEFAULT_CSS = """
    CaseForm {
        background: $background;
        align: center top;
        #form { height: 1fr; padding: 1 2; overflow-y: auto; }
        #form-title { height: 1; padding: 0 1; text-style: bold; background: $panel; }
        .field { height: 2; }
        .field Label { width: 18; text-style: bold; }
        .field Input { width: 1fr; background: $panel; color: $foreground; }
        .field Input:focus { text-style: underline; }
        .field Input>.input--placeholder { color: $secondary; }
    }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "begin", priority=True),
        Binding("up", "move(-1)", priority=True),
        Binding("down", "move(1)", priority=True),
        Binding("escape", "leave", priority=True),
        Binding("f6", "app.turn_light", priority=True),
        Binding("ctrl+q", "app.quit", priority=True),
    ]

    def __init__(self, known: Mapping[str, str]) -> None:
        super().__init__()
        self._known = known

    def compose(self) -> ComposeResult:
        """Lay out a line for each field."""
        yield Static("New case", id="form-title", markup=False)
        yield Problems()
        with Vertical(id="form"):
            for field, (title, hint) in FIELDS.items():
                with Horizontal(classes="field"):
                    yield Label(title, markup=False)
                    yield Input(
                        self._known.get(field, ""),
                        placeholder=hint,
                        id=field,
                        compact=True,
                        restrict=r"[^\x00-\x1f\x7f-\x9f]*",
                        select_on_focus=False,
                    )
        yield Keys()

    def on_mount(self) -> None:
        """Begin with the first field that is empty."""
        self.query_one(Keys).keys = _KEYS
        empty = [each for each in self.query(Input) if not each.value]
        (empty or list(self.query(Input)))[0].focus()

    @on(Input.Submitted)
    def _take_enter(self) -> None:
        self.action_next()

    def action_next(self) -> None:
        """Go to the next field; from the last one, begin."""
        inputs = list(self.query(Input))
        if self.focused is inputs[-1]:
            self.action_begin()
        else:
            self.action_move(1)

    def action_move(self, step: int) -> None:
        """Go to a field so many further down, not beyond the ends."""
        inputs: list[Any] = list(self.query(Input))
        at = inputs.index(self.focused) if self.focused in inputs else 0
        inputs[max(0, min(len(inputs) - 1, at + step))].focus()

    def action_leave(self) -> None:
        """Begin nothing."""
        self.dismiss(None)

    def action_begin(self) -> None:
        """Give the fields back, or say what is wrong with them."""
        fields = entered_fields_of({each.id or "": each.value for each in self.query(Input)})
        try:
            entered_case({"id": "case", "opened": now_utc(), **fields})
        except DictateError as error:
            self.query_one(Problems).tell("form", str(error))
            return
        self.dismiss(fields)

    def on_click(self, event: events.Click) -> None:
        """Keep a field in hand."""
        if self.focused is None:
            self.query(Input).first().focus()


def entered_fields_of(typed: Mapping[str, str]) -> dict[str, Any]:
    """Return what was typed as fields of a case: a day as a day, a number as a number, anything
    else as it is for `entered_case` to refuse; without those left empty, but for `_ALWAYS`."""
    stated = {field: value.strip() for field, value in typed.items()}
    fields: dict[str, Any] = {f: v for f, v in stated.items() if v or f in _ALWAYS}
    if (scale := stated.get("index_scale", "")) in ("3", "4"):
        fields["index_scale"] = int(scale)
    if "species" in fields:
        fields["species"] = fields["species"].lower()
    with suppress(KeyError, ValueError):
        fields["birth_date"] = date.fromisoformat(fields["birth_date"])
    return fields


def known_of(case: Case) -> dict[str, str]:
    """Return what the form can say of a case's animal, for another visit of it."""
    values = {field: getattr(case, field) for field in _OF_THE_ANIMAL}
    known = {field: str(value) for field, value in values.items() if value}
    return {**known, "clinician": case.clinician, "index_scale": str(case.index_scale)}
