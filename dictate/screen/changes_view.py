"""The view of changes: what undo would take back, step by step, and redo put back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.message import Message

from dictate.chart.chart import standing_utterances, undone_utterances
from dictate.chart.events import Closed, Event, Heard, Reopened
from dictate.screen.happenings import happening_words
from dictate.screen.view import Listing, Row
from dictate.session.session import Session


class ChangesView(Listing):
    """The changes, the last first. Enter undoes, or redoes, down to the chosen one."""

    title: ClassVar[str] = "Changes · ↑↓ choose · Enter undoes or redoes down to it · Esc back"
    searched: ClassVar[str] = "type to search the changes"
    none: ClassVar[str] = "Nothing to undo or to redo."

    class StepsChosen(Message):
        """Several steps are to be undone or redone."""

        def __init__(self, word: str, times: int) -> None:
            super().__init__()
            self.word = word
            self.times = times

    def show(self, session: Session) -> None:
        """Show the steps that undo and redo would take."""
        events = session.events
        texts = {each.sequence: each.what.text for each in events if isinstance(each.what, Heard)}

        def rows(word: str, steps: Sequence[Sequence[Event]]) -> list[Row]:
            told = []
            for number, step in enumerate(reversed(steps), start=1):
                what = happening_words([each.what for each in step], texts, session.chart.anatomy)
                said = texts.get(step[0].utterance, "")
                told.append(Row(f"{word}-{number}", f"{word} {number}", f"“{said}”", (what,)))
            return told

        standing = _since_closing(standing_utterances(events))
        self.take_rows([*rows("undo", standing), *rows("redo", undone_utterances(events))])

    def choose(self, row: Row) -> None:
        """Ask for the steps down to the row."""
        word, times = row.key.split("-")
        self.post_message(self.StepsChosen(word, int(times)))


def _since_closing(steps: Sequence[Sequence[Event]]) -> Sequence[Sequence[Event]]:
    """Return the steps after the chart was last closed or opened again, which is not undone."""
    for place in reversed(range(len(steps))):
        if any(isinstance(each.what, Closed | Reopened) for each in steps[place]):
            return steps[place + 1 :]
    return steps
