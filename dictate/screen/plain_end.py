"""How the screen begins, and how it ends where the program fails."""

from __future__ import annotations

import sys
from typing import Any

from rich.segment import Segments
from rich.traceback import Traceback
from textual.app import App, ReturnType
from textual.constants import DRIVER

from dictate.errors import DictateError


class PlainEnd(App[ReturnType]):
    """A program whose last words, where it fails, are where in the code that was. Textual would
    print the values of variables too: patients, codes, keys, to be pasted into who knows what."""

    def run(self, *args: Any, **options: Any) -> ReturnType | None:
        """Show it on the terminal, or as a browser's driver does; raise DictateError where there is
        no terminal: it would wait for keys that nobody can press."""
        if DRIVER is None and not sys.stdin.isatty():
            raise DictateError("This is shown on a terminal: run it in one.")
        return super().run(*args, **options)

    def _fatal_error(self) -> None:
        self.bell()
        traceback = Traceback(show_locals=False, width=None)
        self._exit_renderables.append(
            Segments(self.console.render(traceback, self.console.options))
        )
        self._close_messages_no_wait()
