"""One-time codes: each admits once, and is changed where too many wrong ones were tried."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass

from dictate.errors import DictateError

LETTERS = "23456789abcdefghjkmnpqrstvwxyz"
"""No two of them are easily taken for each other: there is no 0, 1, i, l, o or u."""
LENGTH = 8
"""Of 30 letters: 39 bits, which nobody guesses in five tries."""
WRONG_TRIES = 5
"""After so many wrong codes from anywhere the code is changed."""
_FIRST_WAIT_S = 1.0
_LONGEST_WAIT_S = 60.0
_MOST_WHO = 256


@dataclass
class _Tries:
    """Wrong tries in a row of one who asks, and when the next one is taken (s)."""

    wrong: int = 0
    next_s: float = 0.0


class Gate:
    """Holds a code, and tells whether one that is given is it.

    `random_code` makes a code; `told` is called with each new one, the first excepted.
    """

    def __init__(
        self,
        random_code: Callable[[], str] | None = None,
        told: Callable[[], None] = lambda: None,
    ) -> None:
        self._random_code = random_code or new_code
        self._told = told
        self._code: str | None = self._random_code()
        self._wrong = 0
        self._tries: dict[str, _Tries] = {}
        self.wrong_in_all = 0

    @property
    def code(self) -> str:
        """The code as people read it, in two halves; "" where the gate is shut."""
        return f"{self._code[:4]}-{self._code[4:]}" if self._code else ""

    def admit(self, given: str, who: str, now_s: float) -> None:
        """Return where `given` is the code, which then is used up.

        `who` is where it came from; each has to wait longer after every wrong one. Raises
        DictateError, a sentence for who gave it.
        """
        if self._code is None:
            raise DictateError("There is no second screen any more.")
        tries = self._tries_of(who)
        if now_s < tries.next_s:
            wait = int(tries.next_s - now_s) + 1
            raise DictateError(f"Wait {wait} s, then enter the code again.")
        if not secrets.compare_digest(_plain(given).encode(), self._code.encode()):
            self._count_wrong(tries, now_s)
            raise DictateError("That is not the code that the charting screen shows now.")
        self._tries.pop(who, None)
        self.renew()

    def shut(self) -> None:
        """Admit nobody any more."""
        self._code = None

    def _tries_of(self, who: str) -> _Tries:
        if who not in self._tries and len(self._tries) >= _MOST_WHO:
            self._tries.pop(next(iter(self._tries)))
        return self._tries.setdefault(who, _Tries())

    def _count_wrong(self, tries: _Tries, now_s: float) -> None:
        tries.wrong += 1
        tries.next_s = now_s + min(_LONGEST_WAIT_S, _FIRST_WAIT_S * 2 ** (tries.wrong - 1))
        self._wrong += 1
        self.wrong_in_all += 1
        if self._wrong >= WRONG_TRIES:
            self.renew()
        else:
            self._told()

    def renew(self) -> None:
        """Change the code."""
        self._code = self._random_code()
        self._wrong = 0
        self._told()


def new_code() -> str:
    """Return a code that nobody can guess."""
    return "".join(secrets.choice(LETTERS) for _ in range(LENGTH))


def looks_like_a_code(text: str) -> bool:
    """Whether a text may be meant as a code, right or wrong."""
    return re.fullmatch(f"[{LETTERS}]{{{LENGTH}}}", _plain(text)) is not None


def _plain(text: str) -> str:
    return re.sub(r"[\s-]", "", text).lower()
