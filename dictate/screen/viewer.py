"""A second screen: the charting screen again, for a browser, following the one that charts."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from time import monotonic

from textual import on
from textual.app import ComposeResult
from textual.message import Message
from textual.widgets import Label

from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.screen.app import ChartingApp
from dictate.screen.entry import Entry, PhraseInput
from dictate.screen.level import LevelBar
from dictate.screen.problems import Problems
from dictate.share.codes import looks_like_a_code
from dictate.share.link import Link
from dictate.share.messages import Happened, Loudness, Press, State, Told, Words
from dictate.share.names import SEAT_VARIABLE, SOCKET_VARIABLE
from dictate.share.remote_session import RemoteSession

_SILENT_FOR_S = 5.0
LOOKS = "SECOND SCREEN, only looking on"
WRITES = "SECOND SCREEN: what you type here is charted"
_ENTER_CODE = "to write, type the code for writing that the charting screen shows"


class Place(Label):
    """The line that says which screen this is."""

    DEFAULT_CSS = """
    Place { width: 100%; background: $foreground; color: $background; padding: 0 1; }
    """


class News(Message):
    """Something was told by the charting screen."""


class Over(Message):
    """The charting screen tells no more."""


class ViewerApp(ChartingApp):
    """The charting screen over a session elsewhere. It only looks on until a code is entered."""

    def __init__(self, session: RemoteSession, link: Link) -> None:
        super().__init__(session)
        self._remote = session
        self._link = link
        self._told_at = monotonic()
        self._elsewhere: set[str] = set()

    def compose(self) -> ComposeResult:
        """Say which screen this is, above the charting screen."""
        yield Place(LOOKS, markup=False)
        yield from super().compose()

    def on_mount(self) -> None:
        """Begin to follow."""
        self._catch_up()
        self._link.follow(
            has_news=lambda: self.post_message(News()),
            is_over=lambda: self.post_message(Over()),
        )
        self.set_interval(1, self._check_alive)

    def on_unmount(self) -> None:
        """Follow no more."""
        self._link.close()

    def begin_listening(self) -> None:
        """Show whether the charting screen listens; only that one can."""
        self.show_hearing(self._remote.state.hearing)

    def show_session(self) -> None:
        """Show the session as it stands, and whether one can write."""
        for told in self._link.news():
            self._take_one(told)
        super().show_session()
        writes = self._remote.state.writes
        self.query_one(Place).update(WRITES if writes else LOOKS)
        if not writes:
            self.query_one(PhraseInput).placeholder = _ENTER_CODE

    @on(News)
    def _take_news(self) -> None:
        self._told_at = monotonic()
        self.query_one(Problems).clear("silence")
        try:
            self._catch_up()
        except DictateError:
            # The page says that it is over, and opened again it has all that happened.
            self.exit()

    @on(Over)
    def _take_over(self) -> None:
        self.exit()

    def _catch_up(self) -> None:
        changed = [self._take_one(told) for told in self._link.news()]
        if any(changed):
            self.show_session()

    def _take_one(self, told: Told) -> bool:
        """Take one thing that was told; return whether the session has changed."""
        match told:
            case Happened(events=events, others=others):
                self._remote.follow(events, others)
                return True
            case State():
                return self._take_state(told)
            case Words(text=text):
                self.show_partial(text)
            case Loudness(dbfs=dbfs, clipping=clipping):
                self.query_one(LevelBar).take(dbfs, clipping)
            case _:
                pass
        return False

    def _take_state(self, state: State) -> bool:
        if state == self._remote.state:
            return False
        self._remote.state = state
        self._is_speaking = state.is_speaking
        self._hearing = state.hearing
        if state.hearing in ("stopped", "ended"):
            self.query_one(LevelBar).clear()
        problems = self.query_one(Problems)
        for kind in self._elsewhere - state.problems.keys():
            problems.clear(f"there: {kind}")
        for kind, sentence in state.problems.items():
            problems.tell(f"there: {kind}", f"On the charting screen: {sentence}")
        self._elsewhere = set(state.problems)
        return True

    def _check_alive(self) -> None:
        if monotonic() - self._told_at > _SILENT_FOR_S:
            sentence = "No word from the charting screen: what is shown here may be old."
            self.query_one(Problems).tell("silence", sentence)

    @on(Entry.Said)
    def _take_code(self, message: Entry.Said) -> None:
        if self._remote.state.writes or not looks_like_a_code(message.phrase):
            return
        message.prevent_default()
        problems = self.query_one(Problems)
        try:
            self._remote.enter_code(message.phrase)
        except DictateError as error:
            problems.tell("saving", str(error))
        else:
            problems.clear("saving")
        self.show_session()

    def action_turn_attention(self) -> None:
        """Press the key there."""
        self._press("turn_attention")

    def action_turn_sounds(self) -> None:
        """Press the key there."""
        self._press("turn_sounds")

    async def action_show_settings(self) -> None:
        """The settings are those of the charting screen."""
        self.tell_for_a_while("settings", "The settings are on the charting screen.")

    def action_silence(self) -> None:
        """Press the key there."""
        self._press("silence")

    def _press(self, key: Press) -> None:
        try:
            self._remote.press(key)
        except DictateError as error:
            self.query_one(Problems).tell("saving", str(error))
        else:
            self.query_one(Problems).clear("saving")


def main() -> None:
    """Follow the charting screen that the environment names."""
    try:
        link = Link(Path(os.environ[SOCKET_VARIABLE]), os.environ[SEAT_VARIABLE])
        link.wait_for_state()
    except (KeyError, DictateError):
        sys.exit(2)
    session = RemoteSession(link.case, spoken_languages(), link)
    ViewerApp(session, link).run()


if __name__ == "__main__":
    main()
