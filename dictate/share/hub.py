"""The charting process's side of second screens: a private socket that they follow and ask.

A socket in a folder that its owner alone may enter: the second screens are processes of the same
user, and the browser behind each can send it keys and no more. Whether one may write is decided
here, never there.
"""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path
from time import monotonic

from pydantic import ValidationError

from dictate.chart.events import Event, Heard
from dictate.errors import DictateError
from dictate.session.session import Session
from dictate.share.codes import Gate
from dictate.share.messages import (
    ANY_ASKED,
    Answer,
    Asked,
    Decide,
    Edit,
    Happened,
    Hello,
    InSession,
    Join,
    Loudness,
    MayWrite,
    Settle,
    State,
    ToBeDone,
    Told,
    Type,
    Words,
    line,
)

SOCKET_NAME = "follow"
_MOST_BEHIND = 4_000_000
"""Bytes that wait for a second screen; one that is further behind is let go."""
_LIVE_BEHIND = 50_000
"""While more waits than this, levels and words so far are left out."""
_LEVEL_EVERY_S = 0.1
_JOIN_WITHIN_S = 5.0

ONLY_LOOKING = (
    "This screen only looks on: to write, type the code for writing that the charting screen shows."
)
# A "yes" would answer another question, and a finding go to another tooth, than the one on the
# screen of whoever sent it.
NOTE_ELSEWHERE = "A note is being taken on another screen or by voice: wait for it."
MOVED_ON = "The chart has moved on meanwhile: look, then send it again."

Do = Callable[[ToBeDone, str], Awaitable[Answer]]
"""Does what is asked from a seat."""


class _Screen:
    """One second screen that follows."""

    def __init__(self, seat: str, writer: asyncio.StreamWriter) -> None:
        self.seat = seat
        self.writer = writer
        self.task: asyncio.Task[None] | None = None

    @property
    def behind(self) -> int:
        return self.writer.transport.get_write_buffer_size()

    def tell(self, told: bytes) -> None:
        if self.behind > _MOST_BEHIND:
            self.writer.transport.abort()
        elif not self.writer.is_closing():
            self.writer.write(told)


class Hub:
    """Tells second screens what happens, and takes what they ask.

    `do` does what a second screen that may write asks, in the order of everything else that
    happens on the charting screen. `state` returns how the charting screen is; `changed` is called
    when somebody has come, gone or been let write.
    """

    def __init__(
        self,
        session: Session,
        do: Do,
        state: Callable[[], State],
        changed: Callable[[], None] = lambda: None,
    ) -> None:
        self._session = session
        self._do = do
        self._state = state
        self._changed = changed
        self._told_events = 0
        self._last_told: Event | None = None
        self._level_told_s = 0.0
        self._screens: set[_Screen] = set()
        self._writing_seats: set[str] = set()
        self._server: asyncio.Server | None = None
        self._folder: Path | None = None
        self.gate = Gate(told=changed)

    @property
    def watching(self) -> int:
        """How many second screens there are."""
        return len(self._screens)

    @property
    def writing(self) -> int:
        """How many of them may write."""
        return sum(each.seat in self._writing_seats for each in self._screens)

    async def open(self) -> Path:
        """Open the socket, and return its path; raises DictateError where there can be none."""
        if not hasattr(asyncio, "start_unix_server"):
            raise DictateError("A second screen needs Linux or macOS: chart without --share.")
        try:
            self._folder = Path(tempfile.mkdtemp(prefix="dictate-"))
            path = self._folder / SOCKET_NAME
            self._server = await asyncio.start_unix_server(self._serve, path)
            path.chmod(0o600)
        except OSError as error:
            await self.close()
            raise DictateError(f"A second screen cannot be opened ({error.strerror}).") from error
        self._told_events = len(self._session.events)
        return path

    async def close(self) -> None:
        """Let every second screen go; the codes are dead and the socket is gone."""
        self.gate.shut()
        self._writing_seats.clear()
        if self._server is not None:
            self._server.close()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
        tasks = [each.task for each in self._screens if each.task is not None]
        for screen in list(self._screens):
            screen.writer.close()
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    def turn_away(self) -> None:
        """Let every second screen go; none may write any more, and the code is another."""
        self._writing_seats.clear()
        self.gate.renew()
        for screen in list(self._screens):
            screen.writer.close()

    def tell_session(self) -> None:
        """Tell the events that are new, and the state."""
        events = self._session.events
        if self._last_told not in (None, *events[self._told_events - 1 : self._told_events]):
            return self._let_go(len(events))
        new = events[self._told_events :]
        self._told_events += len(new)
        if new:
            self._last_told = new[-1]
            self._tell_all(self._happened(new))
        self.tell_state()

    def _let_go(self, told: int) -> None:
        """Let all screens go: what they know has other numbers by now, since another station
        charted while the database was away."""
        self._told_events, self._last_told = told, None
        for screen in list(self._screens):
            screen.writer.close()

    def _happened(self, events: tuple[Event, ...]) -> Happened:
        others = self._session.others
        of_others = tuple(each.sequence for each in events if each.sequence in others)
        return Happened(events=events, others=of_others)

    def tell_state(self) -> None:
        """Tell how the charting screen is."""
        if not self._screens:
            return
        state = self._state()
        for screen in list(self._screens):
            screen.tell(line(self._state_for(screen, state)))

    def tell_words(self, text: str) -> None:
        """Tell the words so far of what is being spoken."""
        self._tell_all(Words(text=text), can_be_left_out=bool(text))

    def tell_level(self, dbfs: float, clipping: bool) -> None:
        """Tell how loud it is (dBFS), a few times a second."""
        now = monotonic()
        if clipping or now - self._level_told_s >= _LEVEL_EVERY_S:
            self._level_told_s = now
            self._tell_all(Loudness(dbfs=dbfs, clipping=clipping), can_be_left_out=True)

    def _tell_all(self, told: Told, can_be_left_out: bool = False) -> None:
        if not self._screens:
            return
        as_line = line(told)
        for screen in list(self._screens):
            if not (can_be_left_out and screen.behind > _LIVE_BEHIND):
                screen.tell(as_line)

    def _state_for(self, screen: _Screen, state: State) -> State:
        return state.model_copy(update={"writes": screen.seat in self._writing_seats})

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        screen: _Screen | None = None
        with contextlib.suppress(ValidationError, OSError, ValueError, asyncio.CancelledError):
            join = Join.model_validate_json(
                await asyncio.wait_for(reader.readline(), _JOIN_WITHIN_S)
            )
            screen = self._join(join.seat, writer)
            while asked := await reader.readline():
                answer = await self._answer(screen, ANY_ASKED.validate_json(asked))
                screen.tell(line(answer))
        writer.close()
        if screen is not None:
            self._screens.discard(screen)
            self._changed()

    def _join(self, seat: str, writer: asyncio.StreamWriter) -> _Screen:
        self.tell_session()
        screen = _Screen(seat, writer)
        screen.task = asyncio.current_task()
        screen.tell(line(Hello(case=self._session.case)))
        screen.tell(line(self._happened(self._session.events)))
        screen.tell(line(self._state_for(screen, self._state())))
        self._screens.add(screen)
        self._changed()
        return screen

    async def _answer(self, screen: _Screen, asked: Asked) -> Answer:
        if isinstance(asked, MayWrite):
            return self._let_write(screen, asked)
        if screen.seat not in self._writing_seats:
            return Answer(to=asked.number, problem=ONLY_LOOKING)
        return await self._do(asked, screen.seat)

    def _let_write(self, screen: _Screen, asked: MayWrite) -> Answer:
        try:
            self.gate.admit(asked.code, screen.seat, monotonic())
        except DictateError as error:
            return Answer(to=asked.number, problem=str(error))
        self._writing_seats.add(screen.seat)
        self.tell_state()
        self._changed()
        return Answer(to=asked.number)


def do_in_session(session: Session, asked: InSession) -> Heard:
    """Let a session take what is asked; raises DictateError where it cannot be saved."""
    match asked:
        case Type():
            return session.type_text(asked.phrase)
        case Edit():
            return session.edit(asked.standing, asked.text)
        case Settle():
            return session.answer(asked.doubt, asked.reading)
        case Decide():
            return session.decide(asked.teeth, asked.rule, asked.decision, asked.text)
