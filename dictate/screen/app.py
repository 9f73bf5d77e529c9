"""The program: it joins the parts of the screen to a session and to a listener."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TypeAlias

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.message import Message

from dictate.assessment.assessment import assess
from dictate.chart.events import Decided
from dictate.errors import DictateError
from dictate.listening import (
    Level,
    Listener,
    ListeningEvent,
    Partial,
    Stopped,
    Tell,
    Understood,
)
from dictate.screen.account import latest_accounts, teeth_asked
from dictate.screen.doubts import Doubts
from dictate.screen.entry import Entry, PhraseInput
from dictate.screen.following import Following
from dictate.screen.follows import Follows, LatestHeard
from dictate.screen.heard import HeardPanel, Live
from dictate.screen.keys import Keys
from dictate.screen.legend import Legend
from dictate.screen.level import LevelBar
from dictate.screen.mouth import Mouth
from dictate.screen.observations import Observations
from dictate.screen.parts import PARTS, SAY_THE_NOTE, TYPED_NOTE, next_part
from dictate.screen.problems import Problems
from dictate.screen.sections import SECTIONS, to_speak_of
from dictate.screen.status import Hearing, Status
from dictate.screen.theme import DARK, LIGHT
from dictate.screen.tooth import ToothInHand
from dictate.session import Session, now_utc
from dictate.speech.recogniser import NOTE

Listen: TypeAlias = Callable[[Tell, Callable[[], str]], Listener]
"""Makes a listener that tells to the first, and asks the second what to listen for."""

_IDLE: dict[Hearing, str] = {
    "typing": "",
    "preparing": "wait: the speech engine is loading",
    "listening": "",
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


class ChartingApp(Following):
    """Charts what is heard and typed, and shows it.

    `listen` makes a listener that is not started yet; without it there is only typing. It is
    called again where a person asks to listen again after a problem. `now` tells the time.
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
    .-following Mouth, .-following #panels, .-following Entry { display: none; }
    .-following Follows { display: block; }
    .-asking #panels { border-top: none; }
    """
    BINDINGS = [  # noqa: RUF012
        Binding("f2", "say('yes')", priority=True),
        Binding("f3", "say('no')", priority=True),
        Binding("ctrl+z", "say('undo')", priority=True),
        Binding("ctrl+y", "say('redo')", priority=True),
        Binding("ctrl+left,pageup", "say('previous tooth')", priority=True),
        Binding("ctrl+right,pagedown", "say('next tooth')", priority=True),
        Binding("f4", "next_part", priority=True),
        Binding("f5", "listen_again", priority=True),
        Binding("f6", "turn_light", priority=True),
        Binding("f7", "follow", priority=True),
        Binding("escape", "leave"),
        Binding("ctrl+q", "quit", priority=True),
    ]

    def __init__(
        self,
        session: Session,
        listen: Listen | None = None,
        now: Callable[[], datetime] = now_utc,
    ) -> None:
        super().__init__()
        self._session = session
        self._listen = listen
        self._now = now
        self._listener: Listener | None = None
        self._hearing: Hearing = "typing"
        self.register_theme(DARK)
        self.register_theme(LIGHT)
        self.theme = DARK.name

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
        yield Follows(anatomy)
        with Vertical(id="bottom"):
            yield Entry()
            yield Keys()

    def on_mount(self) -> None:
        """Show the session and begin to listen."""
        self.query_one(PhraseInput).focus()
        self.show_session()
        self._begin_listening()

    def on_unmount(self) -> None:
        """Let the listener end."""
        if self._listener is not None:
            self._listener.stop()
            self._listener.join(_JOIN_S)

    @on(Told)
    def _take_told(self, message: Told) -> None:
        match message.event:
            case Level(dbfs, clipping):
                if self._hearing == "preparing":
                    self._show_hearing("listening")
                self.query_one(LevelBar).take(dbfs, clipping)
            case Partial(text):
                self._show_partial(text)
            case Understood() as understood:
                self._hear(understood)
            case Stopped(problem):
                self._show_stopped(problem)

    @on(Entry.Said)
    def _take_typed(self, message: Entry.Said) -> None:
        if self._type(message.phrase):
            self.query_one(Entry).done(message.phrase)

    @on(Mouth.ToothClicked)
    def _take_tooth(self, message: Mouth.ToothClicked) -> None:
        self._type(str(message.tooth))

    @on(Status.PartClicked)
    def _take_part(self) -> None:
        self.action_next_part()

    def action_next_part(self) -> None:
        """Go to the next part of the visit."""
        self._type(PARTS[next_part(self._session.chart.context)].go_to)

    def action_say(self, phrase: str) -> None:
        """Do what saying the phrase would do."""
        self._type(phrase)

    def action_turn_light(self) -> None:
        """Change between the dark and the light theme."""
        self.theme = LIGHT.name if self.theme == DARK.name else DARK.name

    def action_listen_again(self) -> None:
        """Listen again, where listening stopped at a problem."""
        if self._hearing == "stopped":
            self._begin_listening()

    def _type(self, phrase: str) -> bool:
        return self._take(phrase, lambda: self._session.type_text(phrase))

    def _hear(self, understood: Understood) -> bool:
        return self._take(
            understood.hypothesis.text,
            lambda: self._session.hear(understood.hypothesis, understood.audio),
        )

    def _take(self, words: str, hear: Callable[[], object]) -> bool:
        """Let the session take an utterance; return whether it could be saved."""
        try:
            hear()
        except DictateError as error:
            self.query_one(Problems).tell(
                "saving", f"Not saved, so nothing was changed: “{words}”. {error}"
            )
            return False
        self.query_one(Problems).clear("saving")
        self.show_session()
        return True

    def keep_decision(self, decided: Decided, teeth: Sequence[int] = ()) -> bool:
        """Keep a decision on its tooth, else on `teeth`; return whether it could be saved."""
        rule, decision, text = decided.rule, decided.decision, decided.text
        meant = teeth or (decided.tooth,)
        words = f"{decision} {', '.join(str(tooth) for tooth in meant)}: {text or rule}"
        return self._take(words, lambda: self._session.decide(meant, rule, decision, text))

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
        self.query_one(Doubts).doubts = doubts
        self.screen.set_class(bool(doubts), "-asking")
        accounts = latest_accounts(session.events, _UTTERANCES_SHOWN, chart.anatomy)
        self.query_one(HeardPanel).show_utterances(accounts)
        self.query_one(LatestHeard).account = accounts[0] if accounts else None
        if self.is_following:
            self.query_one(Follows).show(assess(session.case, chart))
        self._show_part()

    def _show_part(self) -> None:
        """Fit the screen to the part of the visit."""
        chart = self._session.chart
        status = self.query_one(Status)
        status.chart = chart
        status.taking_note = self._session.listening_for == NOTE
        about_teeth = not to_speak_of(chart.context)
        self.screen.set_class(not about_teeth, "-beside-teeth")
        self.screen.set_class(about_teeth and bool(SECTIONS[chart.context]), "-recorded")
        self.screen.set_class(not chart.teeth_in_hand, "-no-tooth")
        example = TYPED_NOTE if status.taking_note else PARTS[chart.context].example
        self.query_one(PhraseInput).suggest(example)
        self._show_idle()

    def _show_idle(self) -> None:
        idle = _IDLE[self._hearing]
        if self._hearing == "listening":
            note = self._session.listening_for == NOTE
            idle = SAY_THE_NOTE if note else PARTS[self._session.chart.context].idle
        self.query_one(Live).idle = idle

    def _show_partial(self, words: str) -> None:
        self.query_one(Live).words = words
        self.query_one(LatestHeard).words = words

    def _begin_listening(self) -> None:
        if self._listen is None:
            return self._show_hearing("typing")
        self.query_one(Problems).clear("listening")
        self._show_hearing("preparing")
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
        self.query_one(LevelBar).clear()
        self._show_hearing("stopped" if problem else "ended")
        if problem:
            sentence = f"Not listening any more: {problem} Typing still works."
            self.query_one(Problems).tell("listening", sentence)

    def _show_hearing(self, hearing: Hearing) -> None:
        self._hearing = hearing
        self.query_one(Status).hearing = hearing
        self._show_idle()
        self.query_one(HeardPanel).set_class(hearing == "typing", "-typing")
        self.query_one(Keys).can_listen = hearing == "stopped"
