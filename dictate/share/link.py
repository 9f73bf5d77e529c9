"""A second screen's side of the private socket."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path

from dictate.errors import DictateError
from dictate.share.messages import (
    ANY_TOLD,
    Answer,
    Asked,
    Hello,
    Join,
    State,
    Told,
    line,
)

_ANSWERED_WITHIN_S = 10.0
_GONE = "The charting screen is gone, or does not answer: look there before you type it again."


class Link:
    """Follows the charting screen through the socket at `path`, for the browser `seat`.

    Raises DictateError where the charting screen is not there.
    """

    def __init__(self, path: Path, seat: str) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._news: deque[Told] = deque()
        self._answers: dict[int, Answer] = {}
        self._answered = threading.Condition()
        self._asked = 0
        self._is_over = False
        try:
            self._socket.connect(str(path))
            self._socket.sendall(line(Join(seat=seat)))
            self._lines = self._socket.makefile("rb")
            hello = self._next()
        except OSError as error:
            raise DictateError(_GONE) from error
        if not isinstance(hello, Hello):
            raise DictateError(_GONE)
        self.case = hello.case

    def wait_for_state(self) -> None:
        """Wait until all that has happened so far is among the news."""
        while not isinstance(told := self._next(), State):
            if told is None:
                raise DictateError(_GONE)
            self._news.append(told)
        self._news.append(told)

    def follow(self, has_news: Callable[[], object], is_over: Callable[[], object]) -> None:
        """Take what is told in a thread of its own: call `has_news` for each, `is_over` at the
        end."""

        def run() -> None:
            with contextlib.suppress(OSError, ValueError):
                while (told := self._next()) is not None:
                    self._take(told)
                    has_news()
            with self._answered:
                self._is_over = True
                self._answered.notify_all()
            is_over()

        threading.Thread(target=run, name="second screen", daemon=True).start()

    def news(self) -> Iterator[Told]:
        """Yield what was told and not yet taken, in order."""
        while self._news:
            yield self._news.popleft()

    def next_number(self) -> int:
        """Return the number of what is asked next."""
        self._asked += 1
        return self._asked

    def ask(self, asked: Asked) -> Answer:
        """Return the answer to what is asked; all that was told before it is among the news.

        Raises DictateError where no answer comes: then the link is over.
        """
        with self._answered:
            with contextlib.suppress(OSError):
                self._socket.sendall(line(asked))
            self._answered.wait_for(
                lambda: asked.number in self._answers or self._is_over, _ANSWERED_WITHIN_S
            )
            answer = self._answers.pop(asked.number, None)
        if answer is None:
            self.close()
            raise DictateError(_GONE)
        return answer

    def close(self) -> None:
        """Follow no more."""
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)

    def _take(self, told: Told) -> None:
        if isinstance(told, Answer):
            with self._answered:
                self._answers[told.to] = told
                self._answered.notify_all()
        else:
            self._news.append(told)

    def _next(self) -> Told | None:
        told = self._lines.readline()
        return ANY_TOLD.validate_json(told) if told else None
