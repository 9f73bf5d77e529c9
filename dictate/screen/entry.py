"""The line to type on what could be said."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.message import Message
from textual.widgets import Input, Label


class PhraseInput(Input):
    """An input that gives earlier phrases back on the up and down keys."""

    BINDINGS = [  # noqa: RUF012
        Binding("up", "earlier", "earlier phrase", show=False),
        Binding("down", "later", "later phrase", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(
            restrict=r"[^\x00-\x1f\x7f-\x9f]*",
            max_length=400,
            compact=True,
        )
        self._earlier: list[str] = []
        self._steps_back = 0

    def suggest(self, example: str) -> None:
        """Show an example of what could be typed while the line is empty."""
        self.placeholder = f"type what you would say: {example}"

    def remember(self, phrase: str) -> None:
        """Keep a phrase that was sent, and begin a new one."""
        if not self._earlier or self._earlier[-1] != phrase:
            self._earlier.append(phrase)
        self._steps_back = 0
        self.clear()

    def action_earlier(self) -> None:
        """Go back to an earlier phrase."""
        self._step(1)

    def action_later(self) -> None:
        """Come back from earlier phrases to an empty line."""
        self._step(-1)

    def _step(self, step: int) -> None:
        self._steps_back = max(0, min(len(self._earlier), self._steps_back + step))
        self.value = self._earlier[-self._steps_back] if self._steps_back else ""
        self.cursor_position = len(self.value)


class Entry(Horizontal):
    """The prompt and the line beside it."""

    DEFAULT_CSS = """
    Entry {
        height: 1;
        background: $panel;
        Label { padding: 0 1; text-style: bold; }
        PhraseInput, PhraseInput:focus {
            width: 1fr;
            background: $panel;
            color: $foreground;
            &>.input--placeholder { color: $secondary; }
        }
    }
    """

    class Said(Message):
        """A phrase was typed."""

        def __init__(self, phrase: str) -> None:
            super().__init__()
            self.phrase = phrase

    def compose(self) -> ComposeResult:
        """Lay out the prompt and the line."""
        yield Label("Type >", markup=False)
        yield PhraseInput()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Tell what was typed, if anything was."""
        event.stop()
        if event.value.strip():
            self.post_message(self.Said(event.value.strip()))

    def done(self, phrase: str) -> None:
        """Begin a new line: the phrase was taken."""
        self.query_one(PhraseInput).remember(phrase)
