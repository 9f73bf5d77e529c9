"""Whose turn it is, the examiner's or the tool's: the tool never speaks into an utterance, and
never listens to itself.

The listener tells what it has heard, the player asks for its turn; each in its own thread. All
times are those of one clock, in s.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

_BEHIND_S = 0.2
"""With sound still unheard that is older than this, somebody may have begun to speak."""

_DEAF_AFTER_S = 3.0
"""A listener that has told nothing for so long has nothing to lose."""

_ASKED_EVERY_S = 0.02


class Turns:
    """The turns of one listener and one player. `echo_s`: how long (s) the room may hold a sound
    once it is over; `now` is the clock that both go by."""

    def __init__(self, echo_s: float = 0.2, now: Callable[[], float] = time.monotonic) -> None:
        self._echo_s = echo_s
        self._now = now
        self._lock = threading.Lock()
        self._told_at: float | None = None
        self._heard_until = 0.0
        self._examiner_speaks = False
        self._sounds: list[tuple[float, float | None]] = []

    def expect_echo(self, echo_s: float) -> None:
        """From now on the room may hold a sound for so long (s)."""
        with self._lock:
            self._echo_s = echo_s

    def hears(self, until: float, examiner_speaks: bool) -> None:
        """Tell that all that was captured before `until` was heard, and whether an utterance is
        running that must not be disturbed."""
        with self._lock:
            self._told_at = self._now()
            self._heard_until = until
            self._examiner_speaks = examiner_speaks

    def hears_no_more(self) -> None:
        """Tell that nobody is listening."""
        with self._lock:
            self._told_at = None

    def take(self, give_up: threading.Event) -> bool:
        """Wait until the examiner is silent and all was heard up to now, then begin a sound; return
        False where `give_up` was set before that."""
        while not give_up.is_set():
            with self._lock:
                if self._is_free():
                    self._sounds = [*self._sounds[-1:], (self._now(), None)]
                    return True
            give_up.wait(_ASKED_EVERY_S)
        return False

    def give_back(self) -> None:
        """End the sound that was begun."""
        with self._lock:
            if self._sounds and self._sounds[-1][1] is None:
                self._sounds[-1] = (self._sounds[-1][0], self._now())

    def is_own_sound(self, begin: float, end: float) -> bool:
        """Return whether what was captured from `begin` to `end` may hold a sound of the tool or
        its echo."""
        with self._lock:
            return any(
                began < end and (ended is None or begin < ended + self._echo_s)
                for began, ended in self._sounds
            )

    def _is_free(self) -> bool:
        now = self._now()
        if self._told_at is None or now - self._told_at > _DEAF_AFTER_S:
            return True
        return not self._examiner_speaks and now - self._heard_until < _BEHIND_S


class CaptureClock:
    """When blocks of sound were captured, told from when they came: a block that comes late was
    waiting while something else was done."""

    _REMEMBERED_S = 180.0
    """Longer than a speech engine may hang before the next block is taken."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._length_s = 0.0
        self._earliest: list[tuple[float, float]] = []

    def captured(self, length_s: float) -> tuple[float, float]:
        """Take the next block of so many s; return when its capture began and ended."""
        arrived = self._now()
        self._length_s += length_s
        # The clock of a sound card drifts from the machine's, so only recent blocks count.
        offset = arrived - self._length_s
        recent = [e for e in self._earliest if arrived - e[0] < self._REMEMBERED_S]
        self._earliest = [e for e in recent if e[1] < offset] + [(arrived, offset)]
        end = self._length_s + self._earliest[0][1]
        return end - length_s, end
