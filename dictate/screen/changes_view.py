"""The view of changes: what undo would take back, step by step, and redo put back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.message import Message

from dictate.chart.chart import standing_utterances, undone_utterances
from dictate.chart.events import Event, Heard
from dictate.screen.happenings import happening_words
from dictate.screen.view import Listing, Row
from dictate.session import Session


class ChangesView(Listing):
    """The changes, the last first. Enter undoes, or redoes, down to the chosen one."""

    title: ClassVar[str] = "Changes · ↑↓ choose · Enter undoes or redoes down to it · Esc back"
    searched: ClassVar[str] = "type to search the changes"
    none: ClassVar[str] = "Nothing was charted yet."

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

        undone = undone_utterances(events)
        self.take_rows([*rows("undo", standing_utterances(events)), *rows("redo", undone)])

    def choose(self, row: Row) -> None:
        """Ask for the steps down to the row."""
        word, times = row.key.split("-")
        self.post_message(self.StepsChosen(word, int(times)))
