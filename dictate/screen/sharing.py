"""The charting screen with second screens: it tells them what happens and does what they ask."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from textual import on
from textual.events import Mount, Unmount
from textual.message import Message

from dictate.chart.events import Heard
from dictate.errors import DictateError
from dictate.listening.listener import Level, Partial
from dictate.screen.app import ChartingApp
from dictate.screen.problems import Problems
from dictate.screen.second_screen import SecondScreen
from dictate.screen.status import Hearing
from dictate.screen.taking import Listen, Told
from dictate.session.session import Session
from dictate.share.address import ShareAddress
from dictate.share.door_messages import Code, DoorTold, Failed, Serving
from dictate.share.door_process import DoorProcess
from dictate.share.hub import MOVED_ON, NOTE_ELSEWHERE, Hub, do_in_session
from dictate.share.messages import Answer, Decide, Edit, Press, PressKey, State, ToBeDone, Type

_STATE_EVERY_S = 1.0
"""A second screen that is told nothing for longer knows that it may be behind."""


class AskedFor(Message):
    """A second screen asks for something; it is done in its turn, as what is heard and typed is."""

    def __init__(self, asked: ToBeDone, seat: str, answer: asyncio.Future[Answer]) -> None:
        super().__init__()
        self.asked = asked
        self.seat = seat
        self.answer = answer


class SharingApp(ChartingApp):
    """Charts, and serves the same live view at `address` to browsers that are admitted. `others`
    are what the charting screen takes."""

    def __init__(
        self,
        session: Session,
        listen: Listen | None = None,
        *,
        address: ShareAddress,
        **others: Any,
    ) -> None:
        super().__init__(session, listen, **others)
        self._address = address
        self._hub = Hub(session, self._do_in_turn, self._state, self._show_screens)
        self._door = DoorProcess(self._take_from_door)
        self._panel = SecondScreen()
        self._note_from: str | None = None

    @on(Mount)
    async def _begin_sharing(self) -> None:
        """Open the second screen beside charting, which does not wait for it."""
        await self.query_one("#bottom").mount(self._panel, before=0)
        self.set_interval(_STATE_EVERY_S, self._hub.tell_state)
        self.run_worker(self._open(), exit_on_error=False)

    @on(Unmount)
    async def _end_sharing(self) -> None:
        """Let the second screens go."""
        await self._hub.close()
        await self._door.end()

    async def _open(self) -> None:
        try:
            path = await self._hub.open()
            await self._door.start(self._address, path)
        except DictateError as error:
            await self._fail(str(error))

    async def action_turn_away(self) -> None:
        """Let every second screen go; each needs a new code to come back."""
        self._door.turn_away()
        self._hub.turn_away()

    async def _fail(self, problem: str) -> None:
        self._panel.problem = problem
        await self._hub.close()

    def _take_from_door(self, told: DoorTold) -> None:
        match told:
            case Serving():
                self._panel.serving = told
            case Code():
                self._panel.code = told
            case Failed(problem=problem):
                self.run_worker(self._fail(problem), exit_on_error=False)

    def _show_screens(self) -> None:
        panel, hub = self._panel, self._hub
        panel.watching, panel.writing = hub.watching, hub.writing
        panel.write_code, panel.wrong_to_write = hub.gate.code, hub.gate.wrong_in_all

    @on(Told)
    def _pass_to_screens(self, message: Told) -> None:
        match message.event:
            case Level(dbfs, clipping):
                self._hub.tell_level(dbfs, clipping)
            case Partial(text):
                self._hub.tell_words(text if self._session.is_listening else "")
            case _:
                pass

    def show_session(self) -> None:
        """Show the session as it stands, here and there."""
        super().show_session()
        if not self._session.note_is_due:
            self._note_from = None
        self._hub.tell_session()

    def show_hearing(self, hearing: Hearing) -> None:
        """Show whether anything is heard, here and there."""
        super().show_hearing(hearing)
        self._hub.tell_state()

    def _state(self) -> State:
        return State.model_validate(
            {
                "hearing": self._hearing,
                "is_speaking": self._is_speaking,
                "is_listening": self._session.is_listening,
                "note_is_due": self._session.note_is_due,
                "problems": self.query_one(Problems).sentences,
            }
        )

    async def _do_in_turn(self, asked: ToBeDone, seat: str) -> Answer:
        answer: asyncio.Future[Answer] = asyncio.get_running_loop().create_future()
        self.post_message(AskedFor(asked, seat, answer))
        return await answer

    @on(AskedFor)
    def _do_asked(self, message: AskedFor) -> None:
        answer = self._do(message.asked, message.seat)
        if not message.answer.done():
            message.answer.set_result(answer)

    def _do(self, asked: ToBeDone, seat: str) -> Answer:
        if isinstance(asked, PressKey):
            self._key(asked.key)()
            return Answer(to=asked.number)
        if asked.seen != len(self._session.events):
            return Answer(to=asked.number, problem=MOVED_ON)
        if self._session.note_is_due and self._note_from != seat:
            return Answer(to=asked.number, problem=NOTE_ELSEWHERE)
        answers: list[Answer] = []

        def hear() -> Heard:
            try:
                heard = do_in_session(self._session, asked)
            except DictateError as error:
                answers.append(Answer(to=asked.number, problem=str(error)))
                raise
            answers.append(Answer(to=asked.number, heard=heard))
            return heard

        self.take_from_key(_words(asked), hear)
        if self._session.note_is_due:
            self._note_from = seat
        return answers[0]

    def _key(self, key: Press) -> Callable[[], None]:
        actions: dict[Press, Callable[[], None]] = {
            "turn_attention": self.action_turn_attention,
            "turn_sounds": self.action_turn_sounds,
            "silence": self.action_silence,
        }
        return actions[key]


def _words(asked: ToBeDone) -> str:
    """Return what is said of something that could not be saved."""
    match asked:
        case Type():
            return asked.phrase
        case Decide():
            return asked.rule
        case Edit():
            return asked.text
        case _:
            return "yes or no"
