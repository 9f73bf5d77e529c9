"""A program in a pseudo terminal, watched from outside."""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import selectors
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

_COLUMNS, _ROWS = 120, 40
_KEPT = 4096
"""So many bytes of what was drawn are looked at again with what comes next."""


class Terminal:
    """A program with a terminal of its own, and what it has drawn lately."""

    def __init__(
        self, command: Sequence[str], environment: Mapping[str, str], kept: int = _KEPT
    ) -> None:
        """Start the program; `began` is when, on the monotonic clock (s). So many bytes of what was
        drawn are kept beside what was drawn last."""
        self._kept = kept
        self._ours, theirs = pty.openpty()
        size = struct.pack("HHHH", _ROWS, _COLUMNS, 0, 0)
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, size)
        self.drawn = b""
        self.began = time.monotonic()
        self.program = subprocess.Popen(
            command,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env={**environment, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
            start_new_session=True,
        )
        os.close(theirs)

    def press(self, keys: str) -> None:
        """Send keys."""
        os.write(self._ours, keys.encode())

    def read(self, wait_s: float) -> bool:
        """Wait for something to be drawn; return whether anything was. Raises EOFError once the
        program has ended."""
        # select.select takes no file whose number is above 1023, and a long run of tests has those.
        with selectors.DefaultSelector() as waiting:
            waiting.register(self._ours, selectors.EVENT_READ)
            ready = waiting.select(max(0.0, wait_s))
        if not ready:
            return False
        try:
            new = os.read(self._ours, 1 << 16)
        except OSError as end:
            raise EOFError("the program has ended") from end
        self.drawn = self.drawn[-self._kept :] + new
        return True

    def wait_for(self, words: str, at_most_s: float = 60.0) -> float:
        """Wait until words are drawn; return how long (s) after the start of the program. Raises
        TimeoutError."""
        wanted, until = words.encode(), time.monotonic() + at_most_s
        while wanted not in self.drawn:
            if time.monotonic() > until:
                raise TimeoutError(f"{words!r} was not drawn: {self.drawn[-400:]!r}")
            self.read(0.2)
        return time.monotonic() - self.began

    def waited_s(self) -> float:
        """Return how long (s) the program's main thread was ready but waited for a processor, since
        others had it (run_delay in the kernel's Documentation/scheduler/sched-stats.rst)."""
        return int(Path(f"/proc/{self.program.pid}/schedstat").read_text().split()[1]) / 1e9

    def forget(self) -> None:
        """Look no more at what was drawn up to now."""
        self.drawn = b""

    def kill(self) -> None:
        """Kill the program as a power cut does, and read what it had drawn by then."""
        os.killpg(self.program.pid, signal.SIGKILL)
        self.program.wait()
        with contextlib.suppress(EOFError):
            while self.read(0.05):
                pass
        os.close(self._ours)

    def end(self) -> None:
        """Quit as a person does, or else kill the program."""
        self.press("\x11")
        with contextlib.suppress(EOFError):
            until = time.monotonic() + 15
            while time.monotonic() < until:
                self.read(0.2)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.program.pid, signal.SIGKILL)
        self.program.wait()
        os.close(self._ours)
