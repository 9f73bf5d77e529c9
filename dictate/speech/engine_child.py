"""The process that a speech engine runs in: it is asked on its standard input, and answers on its
standard output, until there is nobody who asks.

A question is (time for it in s, what, what is given); an answer is (sentence of a DictateError or
None, the answer). It ends when its input does, so also when the program that asks is killed; and by
itself soon after the time for a question is over, even inside a library that never returns. It
writes no sound anywhere and leaves no core dump.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import sys
from typing import Any, BinaryIO

from dictate.errors import DictateError
from dictate.speech.audio import Samples
from dictate.speech.recogniser import Hypothesis, Recogniser

_GRACE_S = 1.0
"""The program that asks ends this process first, if it is there."""

_PR_SET_DUMPABLE = 4
"""Source: linux/prctl.h."""


def main() -> None:
    """Answer until the questions end."""
    questions, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    # What a library prints must not come between the answers.
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    _leave_no_core()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, BrokenPipeError):
        _answer(questions, answers)


def _answer(questions: BinaryIO, answers: BinaryIO) -> None:
    engine: Any = None
    while True:
        # From the pipe of the program that started this process, and from nobody else.
        limit_s, what, given = pickle.load(questions)  # noqa: S301
        _end_after(limit_s + _GRACE_S)
        problem, answer = None, None
        try:
            if what == "make":
                engine = given[0]()
            elif what == "decode":
                answer = _decode(engine, *given)
            else:
                answer = getattr(engine, what)(*given)
        except DictateError as error:
            problem = str(error)
        _end_after(0)
        pickle.dump((problem, answer), answers)
        answers.flush()


def _decode(engine: Recogniser, samples: Samples) -> Hypothesis:
    """Judge a whole utterance, shape (n,), of which nothing was fed before."""
    engine.start()
    engine.feed(samples)
    return engine.finish(samples)


def _end_after(seconds: float) -> None:
    """End this process after so long, 0 for never. The system does it: Python's own threads and
    handlers wait for a library that does not return."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, seconds)


def _leave_no_core() -> None:
    """Keep the sound in this process out of core dumps, also where a program is sent those."""
    if sys.platform == "win32":
        return
    import resource

    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    if sys.platform == "linux":
        import ctypes

        ctypes.CDLL(None).prctl(_PR_SET_DUMPABLE, 0, 0, 0, 0)


if __name__ == "__main__":
    main()
