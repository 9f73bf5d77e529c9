"""The program: it joins the parts of the screen to a session and to a listener."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, TypeAlias

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.message import Message

from dictate.chart.events import Decided, Heard
from dictate.errors import DictateError
from dictate.listening import (
    EngineEnded,
    Level,
    Listener,
    ListeningEvent,
    Missed,
    Partial,
    Stopped,
    Tell,
    Undecoded,
    Understood,
)
from dictate.metering import RunningMicrophone
from dictate.screen.account import latest_accounts, teeth_asked
from dictate.screen.actions import ACTIONS
from dictate.screen.among_stations import AmongStations
from dictate.screen.attending import ENGINE_ENDED
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
from dictate.screen.level import LevelBar
from dictate.screen.mouth import Mouth
from dictate.screen.observations import Observations
from dictate.screen.parts import PARTS, SAY_THE_NOTE, example_of, next_part, waiting_line
from dictate.screen.problems import Problems
from dictate.screen.sections import SECTIONS, to_speak_of
from dictate.screen.status import Hearing, Status, time_since
from dictate.screen.theme import DARK, LIGHT, theme_name
from dictate.screen.tooth import ToothInHand
from dictate.session import Session, now_utc
from dictate.settings import Settings
from dictate.sounds.answers import Answers
from dictate.speech.audio import UtteranceAudio
from dictate.statement_data import MISSED, TO_THE_TOOL

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore

Listen: TypeAlias = Callable[[Tell, Callable[[], str]], Listener]
"""Makes a listener that tells to the first, and asks the second what to listen for."""

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
_JOIN_S = 1.0


class Told(Message):
    """What the listener told, on its way from its thread to the screen's."""

    def __init__(self, event: ListeningEvent) -> None:
        super().__init__()
        self.event = event


class ChartingApp(AmongStations):
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
        super().__init__(session, settings or Settings(), answers, running, store)
        self._listen = listen
        self._now = now
        self._listener: Listener | None = None
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
        if self._listener is not None:
            self._listener.stop()
            self._listener.join(_JOIN_S)

    @on(Told)
    async def _take_told(self, message: Told) -> None:
        match message.event:
            case Level(dbfs, clipping):
                if self._hearing == "preparing":
                    self.show_hearing("listening")
                self.query_one(LevelBar).take(dbfs, clipping)
                self.running_microphone.tell(message.event)
            case Partial(text):
                self._show_partial(text if self._session.is_listening else "")
            case Understood() as understood:
                heard = self._hear(understood)
                if heard is not None:
                    await self.follow(heard)
            case Missed(audio):
                self._miss(audio)
            case Undecoded(audio, listened_for):
                answer = self._answers.to if self._answers else None
                self._take("…", lambda: self._session.keep_undecoded(audio, listened_for), answer)
            case EngineEnded():
                self.tell_for_a_while("engine", ENGINE_ENDED)
            case Stopped(problem):
                self._show_stopped(problem)

    @on(Entry.Said)
    async def _take_typed(self, message: Entry.Said) -> None:
        heard = self.type_phrase(message.phrase)
        self.query_one(Entry).done(message.phrase, taken=heard is not None)
        if heard is not None:
            await self.follow(heard)

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

    def type_phrase(self, phrase: str) -> Heard | None:
        """Let the session take a phrase as if it were typed; return what became of it, None where
        it could not be saved."""
        return self.take_from_key(phrase, lambda: self._session.type_text(phrase))

    def take_from_key(self, words: str, hear: Callable[[], Heard]) -> Heard | None:
        """Let the session take what was typed or asked by a key; return what became of it, None
        where it could not be saved. Who types looks at the screen, so only words to the tool itself
        are answered by sound."""

        def answer(heard: Heard) -> None:
            to_the_tool = any(each["statement"] in TO_THE_TOOL for each in heard.statements)
            if to_the_tool and self._answers is not None:
                self._answers.to(heard)

        return self._take(words, hear, answer)

    def _hear(self, understood: Understood) -> Heard | None:
        hypothesis, listened_for = understood.hypothesis, understood.listened_for

        def answer(heard: Heard) -> None:
            if self._answers is not None:
                rest = self._session.charted_with(heard)
                self._answers.to(heard, hypothesis.alternatives, rest)

        return self._take(
            hypothesis.text,
            lambda: self._session.hear(hypothesis, understood.audio, listened_for),
            answer,
            self._answers.not_saved if self._answers is not None else None,
        )

    def _miss(self, audio: UtteranceAudio) -> None:
        """Take an utterance without its beginning. Of several running only the first is answered by
        sound: a room that echoes too long would go on answering itself."""
        if not self._session.is_listening:
            return
        last = self._session.heard[-1:]
        again = any(isinstance(e.what, Heard) and e.what.rule == MISSED for e in last)
        answers = None if again else self._answers
        self._take("…", lambda: self._session.miss(audio), answers.to if answers else None)

    def _take(
        self,
        words: str,
        hear: Callable[[], Heard | None],
        answer: Callable[[Heard], None] | None = None,
        not_saved: Callable[[], None] | None = None,
    ) -> Heard | None:
        """Let the session take an utterance; return what became of it, None where nothing did or it
        could not be saved. `answer` is told likewise."""
        try:
            heard = hear()
        except DictateError as error:
            self.query_one(Problems).tell(
                "saving", f"Not saved, so nothing was changed: “{words}”. {error}"
            )
            # To stop listening needs no saving.
            self._show_part()
            if not_saved is not None:
                not_saved()
            return None
        if heard is None:
            return None
        self.query_one(Problems).clear("saving")
        if answer is not None:
            answer(heard)
        self.show_session()
        return heard

    def keep_decision(self, decided: Decided, teeth: Sequence[int] = ()) -> bool:
        """Keep a decision on its tooth, else on `teeth`; return whether it could be saved."""
        rule, decision, text = decided.rule, decided.decision, decided.text
        meant = teeth or (decided.tooth,)
        words = f"{decision} {', '.join(str(tooth) for tooth in meant)}: {text or rule}"
        heard = self._take(words, lambda: self._session.decide(meant, rule, decision, text))
        if heard is not None and heard.outcome == "refused":
            self.query_one(Problems).tell("decision", heard.reason or "")
            return False
        return heard is not None

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
        self._show_part()
        self.show_database()

    def _show_part(self) -> None:
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

    def _show_partial(self, words: str) -> None:
        self.query_one(Live).words = words
        self.query_one(LatestHeard).words = words

    def begin_listening(self) -> None:
        """Let a listener begin, where there is one."""
        if self._listen is None:
            return self.show_hearing("typing")
        self.query_one(Problems).clear("listening")
        self.show_hearing("preparing")
        try:
            listener = self._listen(self._pass_on, lambda: self._session.listening_for)
            listener.start()
            self._listener = listener
        except DictateError as error:
            self._show_stopped(str(error))

    def _pass_on(self, event: ListeningEvent) -> None:
        """Take what the listener tells, on its thread, to the screen's."""
        self.post_message(Told(event))

    def _show_stopped(self, problem: str | None) -> None:
        self._show_partial("")
        self.running_microphone.name = None
        self.query_one(LevelBar).clear()
        self.show_hearing("stopped" if problem else "ended")
        if problem:
            sentence = f"Not listening any more: {problem} Typing still works."
            self.query_one(Problems).tell("listening", sentence)

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
            self._show_partial("")
        self.query_one(HeardPanel).set_class(hearing == "typing", "-typing")
        self.query_one(Keys).attention = self._attention_key()

    def _attention_key(self) -> Key | None:
        if self._hearing == "stopped":
            return LISTEN
        if self._hearing in ("preparing", "listening"):
            return STOP_LISTENING if self._session.is_listening else LISTEN
        return None
