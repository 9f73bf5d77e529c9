"""The line to type on what could be said."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.events import Key
from textual.message import Message
from textual.widgets import Input, Label


class PhraseInput(Input):
    """An input that gives earlier phrases back on the up and down keys.

    Keys take effect in the order in which they were pressed, however busy the program is: what is
    typed after Enter is the next phrase, and a letter after backspace is not the one it removes.
    """

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

    async def on_key(self, event: Key) -> None:
        """Do what a key of the line does now, not after the letters that wait behind it."""
        bindings = self._bindings.key_to_bindings.get(event.key, ())
        if bindings:
            event.stop()
            event.prevent_default()
            await self.run_action(bindings[0].action)

    async def action_submit(self) -> None:
        """Send the phrase, and begin a new one."""
        await super().action_submit()
        if self.value.strip():
            self.clear()
            self._steps_back = 0

    def remember(self, phrase: str) -> None:
        """Keep a phrase that was sent."""
        if not self._earlier or self._earlier[-1] != phrase:
            self._earlier.append(phrase)

    def give_back(self, phrase: str) -> None:
        """Put back a phrase that was sent and not taken; where more was typed since, it is the one
        that the up key gives."""
        if self.value:
            self.remember(phrase)
        else:
            self.value = phrase
            self.cursor_position = len(phrase)

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

    def done(self, phrase: str, taken: bool) -> None:
        """Remember a phrase that was taken; put back one that was not."""
        line = self.query_one(PhraseInput)
        (line.remember if taken else line.give_back)(phrase)
