"""How the screen ends where the program fails."""

from __future__ import annotations

from rich.segment import Segments
from rich.traceback import Traceback
from textual.app import App, ReturnType


class PlainEnd(App[ReturnType]):
    """A program whose last words, where it fails, are where in the code that was. Textual would
    print the values of variables too: patients, codes, keys, to be pasted into who knows what."""

    def _fatal_error(self) -> None:
        self.bell()
        traceback = Traceback(show_locals=False, width=None)
        self._exit_renderables.append(
            Segments(self.console.render(traceback, self.console.options))
        )
        self._close_messages_no_wait()
