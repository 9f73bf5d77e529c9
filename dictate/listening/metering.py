"""Tells how loud a microphone is, and keeps and charts nothing of it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Protocol, TypeAlias

from dictate.errors import DictateError
from dictate.listening.listener import Level, Stopped
from dictate.speech.audio import AudioSource
from dictate.speech.level import is_clipping, level_dbfs

MeterEvent: TypeAlias = Level | Stopped


class StoppableSource(AudioSource, Protocol):
    """A source that ends when it is told to."""

    def stop(self) -> None:
        """End the blocks, from any thread."""
        ...


class Meter(threading.Thread):
    """A thread that opens a source and tells the level of its blocks until `stop` is called; the
    last thing told is Stopped, with the problem where there is one."""

    def __init__(
        self, open_source: Callable[[], StoppableSource], tell: Callable[[MeterEvent], None]
    ) -> None:
        super().__init__(name="meter", daemon=True)
        self._open_source = open_source
        self._tell = tell
        self._exit = threading.Event()
        self._source: StoppableSource | None = None

    def stop(self) -> None:
        """Ask the thread to end; it ends within a block of sound."""
        self._exit.set()
        if self._source is not None:
            self._source.stop()

    def run(self) -> None:
        """Tell levels."""
        try:
            self._source = self._open_source()
            self._measure(self._source)
            self._tell(Stopped())
        except DictateError as error:
            self._tell(Stopped(str(error)))
        except Exception as error:  # a thread that dies unheard would leave the screen waiting
            self._tell(Stopped(f"The microphone has failed ({error}): choose another one."))

    def _measure(self, source: StoppableSource) -> None:
        # Asked to end while the source was being opened.
        if self._exit.is_set():
            return
        for block in source.blocks():
            if self._exit.is_set():
                return
            self._tell(Level(level_dbfs(block), is_clipping(block)))


class RunningMicrophone:
    """The microphone that an examination listens with: its name, and its levels for who wants to
    watch them. Everything here happens in the screen's thread.

    `name` is the device's own, None while nothing listens.
    """

    def __init__(self, name: str | None = None) -> None:
        self.name = name
        self._watchers: list[Callable[[Level], None]] = []

    def tell(self, level: Level) -> None:
        """Tell a level to those who watch."""
        for watcher in tuple(self._watchers):
            watcher(level)

    def watch(self, watcher: Callable[[Level], None]) -> Callable[[], None]:
        """Tell levels to a watcher from now on; return what ends it."""
        self._watchers.append(watcher)
        return lambda: self._watchers.remove(watcher)
