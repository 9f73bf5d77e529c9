"""The program: it joins the parts of the screen to a session and to a listener."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from dictate.listening.metering import RunningMicrophone
from dictate.screen.account import latest_accounts, teeth_asked
from dictate.screen.actions import ACTIONS
from dictate.screen.big import BigType
from dictate.screen.changes_view import ChangesView
from dictate.screen.doubts import Doubts
from dictate.screen.doubts_view import DoubtsView
from dictate.screen.entry import Entry, PhraseInput
from dictate.screen.findings_view import FindingsView
from dictate.screen.follows import Follows, LatestHeard
from dictate.screen.heard import HeardPanel, Live
from dictate.screen.help_view import HelpView
from dictate.screen.keys import LISTEN, STOP_LISTENING, Key, Keys
from dictate.screen.legend import Legend
from dictate.screen.mouth import Mouth
from dictate.screen.observations import Observations
from dictate.screen.parts import PARTS, SAY_THE_NOTE, example_of, next_part, waiting_line
from dictate.screen.problems import Problems
from dictate.screen.sections import SECTIONS, to_speak_of
from dictate.screen.status import Hearing, Status, time_since
from dictate.screen.taking import Listen, Taking
from dictate.screen.theme import DARK, LIGHT, theme_name
from dictate.screen.tooth import ToothInHand
from dictate.session.session import Session, now_utc
from dictate.settings import Settings
from dictate.sounds.answers import Answers

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore

_IDLE: dict[Hearing, str] = {
    "typing": "",
    "preparing": "wait: the speech engine is loading",
    "listening": "",
    "waiting": "",
    "speaking": "wait for the end of it, or Esc",
    "stopped": "type below; F5 listens again",
    "ended": "type below",
}
_UTTERANCES_SHOWN = 40


class ChartingApp(Taking):
    """Charts what is heard and typed, and shows it.

    `listen` makes a listener that is not started yet; without it there is only typing. It is
    called again where a person asks to listen again after a problem. `now` tells the time.
    `answers` answers what is said by sound; without it there are no sounds. `running` is told the
    levels of the microphone, whose name whoever makes the listener gives it. `store` has the cases
    that may be looked at.
    """

    TITLE = "dictate"
    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { background: $background; color: $foreground; overflow: hidden; }
    #bottom { dock: bottom; height: auto; }
    #panels { height: 1fr; min-height: 2; border-top: solid $secondary; }
    #left { width: 2fr; min-width: 35; }
    #left ToothInHand { height: 1fr; }
    #left Observations { display: none; height: auto; max-height: 3; }
    .-beside-teeth #left { width: 3fr; }
    .-beside-teeth #left Observations { display: block; height: 1fr; max-height: 100%; }
    .-beside-teeth #left ToothInHand { height: 2; }
    .-beside-teeth.-no-tooth #left ToothInHand { display: none; }
    .-recorded #left Observations { display: block; }
    .-viewing Mouth, .-viewing #panels, .-viewing Entry { display: none; }
    .-viewing LatestHeard { display: block; }
    .-view-doubts Doubts { display: none; }
    .-view-big Status, .-view-big Doubts, .-view-big #bottom { display: none; }
    .-asking #panels { border-top: none; }
    """
    BINDINGS = [each.binding() for each in ACTIONS]  # noqa: RUF012

    def __init__(
        self,
        session: Session,
        listen: Listen | None = None,
        now: Callable[[], datetime] = now_utc,
        answers: Answers | None = None,
        settings: Settings | None = None,
        running: RunningMicrophone | None = None,
        store: CaseStore | None = None,
    ) -> None:
        super().__init__(session, listen, settings or Settings(), answers, running, store)
        self._now = now
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = theme_name(self.settings_in_force.screen.theme)

    def compose(self) -> ComposeResult:
        """Lay out the screen from top to bottom."""
        anatomy = self._session.chart.anatomy
        yield Status(self._session.case, self._now)
        yield Problems()
        yield Mouth()
        yield Doubts(anatomy)
        with Horizontal(id="panels"):
            with Vertical(id="left"):
                yield ToothInHand()
                yield Observations()
            yield HeardPanel()
        opened = self._session.case.opened
        yield Follows(anatomy, lambda: time_since(opened, self._now()))
        yield HelpView(self._session.languages)
        yield FindingsView()
        yield DoubtsView()
        yield ChangesView()
        yield BigType()
        with Vertical(id="bottom"):
            yield LatestHeard()
            yield Entry()
            yield Keys()

    def on_mount(self) -> None:
        """Show the session and begin to listen."""
        self.query_one(PhraseInput).focus()
        self.show_session()
        if self.settings_in_force.screen.big_type:
            self.action_show("big")
        self.begin_answering()
        self.begin_listening()
        self.watch_stations()

    def on_unmount(self) -> None:
        """Let the listener and the player end."""
        self.end_answering()
        self.end_listening()

    @on(Mouth.ToothClicked)
    def _take_tooth(self, message: Mouth.ToothClicked) -> None:
        self.type_phrase(str(message.tooth))

    @on(Status.PartClicked)
    def _take_part(self) -> None:
        self.action_next_part()

    def action_next_part(self) -> None:
        """Go to the next part of the visit."""
        self.type_phrase(PARTS[next_part(self._session.chart.context)].go_to)

    def action_say(self, phrase: str) -> None:
        """Do what saying the phrase would do."""
        self.type_phrase(phrase)

    def show_session(self) -> None:
        """Show the session as it stands."""
        session = self._session
        chart, doubts = session.chart, session.doubts
        mouth = self.query_one(Mouth)
        mouth.chart = chart
        mouth.asked = teeth_asked(doubts)
        self.query_one(ToothInHand).chart = chart
        self.query_one(Observations).chart = chart
        self.query_one(Legend).explain(chart)
        self.query_one(Doubts).doubts = session.doubts_here
        self.show_waiting()
        self.default_screen.set_class(bool(session.doubts_here), "-asking")
        accounts = latest_accounts(session.events, _UTTERANCES_SHOWN, chart.anatomy, session.others)
        self.query_one(HeardPanel).show_utterances(accounts)
        self.query_one(LatestHeard).account = accounts[0] if accounts else None
        self.show_view()
        self.show_part()
        self.show_database()

    def show_part(self) -> None:
        """Fit the screen to the part of the visit."""
        chart = self._session.chart
        status = self.query_one(Status)
        status.chart = chart
        status.note = self._note_words()
        about_teeth = not to_speak_of(chart.context)
        self.default_screen.set_class(not about_teeth, "-beside-teeth")
        self.default_screen.set_class(about_teeth and bool(SECTIONS[chart.context]), "-recorded")
        self.default_screen.set_class(not chart.teeth_in_hand, "-no-tooth")
        example = example_of(chart.context, bool(status.note), chart.closed)
        self.query_one(PhraseInput).suggest(example)
        self.show_keys()
        self.show_hearing(self._hearing)

    def _note_words(self) -> str:
        if not self._session.note_is_due:
            return ""
        return "taking a note" if self._session.is_listening else "a note waits"

    def _show_idle(self) -> None:
        hearing, note = self._shown_hearing(), self._session.note_is_due
        idle = _IDLE[hearing]
        if hearing == "listening":
            idle = SAY_THE_NOTE if note else PARTS[self._session.chart.context].idle
        elif hearing == "waiting":
            idle = waiting_line(self._session.said_to_resume)
        self.query_one(Live).idle = idle

    def _shown_hearing(self) -> Hearing:
        """Return what the screen says of listening: what the listener does, unless the tool itself
        speaks or was told not to listen."""
        if self._hearing != "listening":
            return self._hearing
        if self._is_speaking:
            return "speaking"
        return "listening" if self._session.is_listening else "waiting"

    def show_hearing(self, hearing: Hearing) -> None:
        """Show whether anything is heard, and which key changes that."""
        self._hearing = hearing
        shown = self._shown_hearing()
        self.query_one(Status).hearing = shown
        self.query_one(BigType).hearing = shown
        if self.view == "big":
            self.show_view()
        self._show_idle()
        if shown == "waiting":
            self.show_partial("")
        self.query_one(HeardPanel).set_class(hearing == "typing", "-typing")
        self.query_one(Keys).attention = self._attention_key()

    def _attention_key(self) -> Key | None:
        if self._hearing == "stopped":
            return LISTEN
        if self._hearing in ("preparing", "listening"):
            return STOP_LISTENING if self._session.is_listening else LISTEN
        return None
