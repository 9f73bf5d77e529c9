"""A speech engine in a process of its own, which may die or hang without harm.

Decoding there leaves this process free to answer keys. Where the engine dies, or does not answer
in time, it is ended and begun anew, and the utterance it was at is decoded again, once.

Only pipes join the two processes; what the engine's does for its part stands in engine_child.py.
"""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from dictate.child import command_of, environment
from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.recogniser import Hypothesis, NotDecodedError, Recogniser

_CHILD = "dictate.speech.engine_child"
_ATTEMPTS = 2
_ENDS = "The speech engine ends as soon as it begins: run “dictate check”."


@dataclass(frozen=True)
class Patience:
    """How long (s) to wait: for the engine to load; for an answer; and longer than that for each
    second of sound that the question holds."""

    to_load_s: float = 60.0
    to_answer_s: float = 10.0
    for_each_s: float = 3.0


class EngineProcess:
    """A `Recogniser` that asks the engine which `make` makes in another process.

    `make` is pickled: a function of a module, or an instance of a class of one, such as
    `engines.EngineMaker`. `tell_ended` is called each time the engine has ended by itself, or had
    to be ended, before it is begun anew.

    Raises DictateError with the engine's own sentence where it cannot be made.
    """

    name = "process"

    def __init__(
        self,
        make: Callable[[], Recogniser],
        tell_ended: Callable[[], None] = lambda: None,
        patience: Patience | None = None,
    ) -> None:
        self._make = make
        self._tell_ended = tell_ended
        self._patience = patience or Patience()
        self._context: str | None = None
        self._failures = 0
        self._is_fed = False
        self._engine: _Engine | None = _Engine(make, self._patience.to_load_s)

    @property
    def process_id(self) -> int | None:
        """The number of the engine's process, None where there is none."""
        return None if self._engine is None else self._engine.process_id

    def attend(self, context: str) -> None:
        """Listen for what can be said in this part of the visit, from the next call on."""
        if context != self._context:
            self._context = context
            self._ask("attend", context)

    def start(self) -> None:
        """Begin an utterance. Raises DictateError where the engine has ended and cannot be made."""
        if self._engine is None or not self._engine.is_alive:
            self._begin_anew()
        self._is_fed = True
        self._ask("start")
        # An engine that ended between two utterances, and was not seen to have, failed neither.
        self._failures = 0

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance, shape (n,); return the words so far, none where the engine
        was begun anew since its start."""
        return (self._ask("feed", samples) or "") if self._is_fed else ""

    def finish(self, samples: Samples) -> Hypothesis:
        """Judge the utterance, shape (n,). Raises NotDecodedError where the engine has failed it
        twice."""
        while self._failures < _ATTEMPTS:
            heard = self._ask("finish" if self._is_fed else "decode", samples)
            if isinstance(heard, Hypothesis):
                return heard
        raise NotDecodedError

    def close(self) -> None:
        """End the engine."""
        if self._engine is not None:
            self._engine.end()
            self._engine = None

    def _ask(self, what: str, *given: Any) -> Any:
        """Return the engine's answer; None where it ended, and was begun anew if it could be."""
        try:
            if self._engine is None:
                raise _EngineEnded
            return self._engine.ask(self._time_for(given), what, *given)
        except _EngineEnded:
            self._failures += 1
            with contextlib.suppress(DictateError):  # `start` says it, if it is still so then
                self._begin_anew()
            return None

    def _time_for(self, given: tuple[Any, ...]) -> float:
        sound = sum(len(each) for each in given if isinstance(each, np.ndarray))
        return self._patience.to_answer_s + self._patience.for_each_s * sound / SAMPLE_RATE

    def _begin_anew(self) -> None:
        self.close()
        self._tell_ended()
        self._is_fed = False
        self._engine = _Engine(self._make, self._patience.to_load_s)
        if self._context is not None:
            try:
                self._engine.ask(self._patience.to_load_s, "attend", self._context)
            except _EngineEnded:
                raise DictateError(_ENDS) from None


class _EngineEnded(Exception):  # noqa: N818
    """The engine died, or was ended because it did not answer in time."""


class _Engine:
    """One process with an engine in it."""

    def __init__(self, make: Callable[[], Recogniser], limit_s: float) -> None:
        self._process = subprocess.Popen(
            command_of(_CHILD),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=environment(),
        )
        try:
            self.ask(limit_s, "make", make)
        except _EngineEnded:
            raise DictateError(_ENDS) from None
        except DictateError:
            self.end()
            raise

    @property
    def process_id(self) -> int:
        return self._process.pid

    @property
    def is_alive(self) -> bool:
        return self._process.poll() is None

    def ask(self, limit_s: float, what: str, *given: Any) -> Any:
        """Return the answer to a question. Raises _EngineEnded where none came in time (s), and
        DictateError where the answer is that sentence."""
        questions, answers = self._process.stdin, self._process.stdout
        assert questions is not None and answers is not None
        # Killing it also ends a wait for it to read the question.
        watchdog = threading.Timer(limit_s, self._process.kill)
        watchdog.daemon = True
        watchdog.start()
        try:
            pickle.dump((limit_s, what, given), questions)
            questions.flush()
            # From the pipe of a process that this one started.
            problem, answer = pickle.load(answers)  # noqa: S301
        except (EOFError, OSError, pickle.UnpicklingError) as error:
            self.end()
            raise _EngineEnded from error
        finally:
            watchdog.cancel()
        if problem is not None:
            raise DictateError(problem)
        return answer

    def end(self) -> None:
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                if pipe is not None:
                    pipe.close()
