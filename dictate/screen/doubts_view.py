"""The view of doubts: every open question with its readings, answered in any order."""

from __future__ import annotations

from typing import ClassVar

from textual.message import Message

from dictate.screen.account import planned_words
from dictate.screen.view import Listing, Row
from dictate.session.session import Session


class DoubtsView(Listing):
    """The open doubts, the one asked last first. The keys that answer a question answer the
    chosen one; Enter is yes."""

    title: ClassVar[str] = "Questions · ↑↓ choose · F2 or Enter yes · F3 no · F9 second · F12 third"
    searched: ClassVar[str] = "type to search the questions"
    none: ClassVar[str] = "Nothing is asked."

    class Answered(Message):
        """The chosen doubt is answered: 1 what was heard, 2 or 3 another reading, 0 none."""

        def __init__(self, number: int, reading: int) -> None:
            super().__init__()
            self.number = number
            self.reading = reading

    def show(self, session: Session) -> None:
        """Show the open doubts."""
        anatomy = session.chart.anatomy
        self.take_rows(
            [
                Row(
                    str(doubt.number),
                    f"? {doubt.heard.reason or 'Is this right?'}",
                    f"heard “{doubt.heard.text}”",
                    (
                        f"F2 YES charts {planned_words(doubt.readings[1], anatomy)}",
                        *(
                            f"{key} charts {planned_words(doubt.readings[number], anatomy)}"
                            for number, key in ((2, "F9"), (3, "F12"))
                            if number in doubt.readings
                        ),
                    ),
                )
                for doubt in reversed(session.doubts)
            ]
        )

    def choose(self, row: Row) -> None:
        """Answer yes."""
        self.answer(1, row)

    def answer(self, reading: int, row: Row | None = None) -> None:
        """Answer the chosen doubt."""
        chosen = row or self.chosen
        if chosen is not None:
            self.post_message(self.Answered(int(chosen.key), reading))
