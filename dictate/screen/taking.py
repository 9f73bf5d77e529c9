"""What is heard and typed, on its way into the session, and the listener that hears it."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeAlias

from textual import on
from textual.message import Message

from dictate.chart.events import Decided, Heard
from dictate.errors import DictateError
from dictate.listening.listener import (
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
from dictate.listening.metering import RunningMicrophone
from dictate.screen.among_stations import AmongStations
from dictate.screen.entry import Entry
from dictate.screen.follows import LatestHeard
from dictate.screen.heard import Live
from dictate.screen.level import LevelBar
from dictate.screen.problems import Problems
from dictate.session.session import Session
from dictate.session.statement_data import MISSED, TO_THE_TOOL
from dictate.settings import Settings
from dictate.sounds.answers import Answers
from dictate.speech.audio import UtteranceAudio

if TYPE_CHECKING:
    from dictate.store.cases import CaseStore

Listen: TypeAlias = Callable[[Tell, Callable[[], str]], Listener]
"""Makes a listener that tells to the first, and asks the second what to listen for."""

_JOIN_S = 1.0
_ENGINE_ENDED = (
    "The speech engine failed and is started again: what you said meanwhile is kept and will be "
    "heard. Typing works."
)


class Told(Message):
    """What the listener told, on its way from its thread to the screen's."""

    def __init__(self, event: ListeningEvent) -> None:
        super().__init__()
        self.event = event


class Taking(AmongStations):
    """The part of the program that lets the session take what is heard and typed. `listen` makes a
    listener; without it there is only typing."""

    def __init__(
        self,
        session: Session,
        listen: Listen | None,
        settings: Settings,
        answers: Answers | None,
        running: RunningMicrophone | None,
        store: CaseStore | None,
    ) -> None:
        super().__init__(session, settings, answers, running, store)
        self._listen = listen
        self._listener: Listener | None = None

    @abstractmethod
    def show_part(self) -> None:
        """Fit the screen to the part of the visit."""

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

    def end_listening(self) -> None:
        """Let the listener end."""
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
                self.show_partial(text if self._session.is_listening else "")
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
                self.tell_for_a_while("engine", _ENGINE_ENDED)
            case Stopped(problem):
                self._show_stopped(problem)

    @on(Entry.Said)
    async def _take_typed(self, message: Entry.Said) -> None:
        heard = self.type_phrase(message.phrase)
        self.query_one(Entry).done(message.phrase, taken=heard is not None)
        if heard is not None:
            await self.follow(heard)

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
            self.show_part()
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

    def _show_stopped(self, problem: str | None) -> None:
        self.show_partial("")
        self.running_microphone.name = None
        self.query_one(LevelBar).clear()
        self.show_hearing("stopped" if problem else "ended")
        if problem:
            sentence = f"Not listening any more: {problem} Typing still works."
            self.query_one(Problems).tell("listening", sentence)

    def show_partial(self, words: str) -> None:
        """Show the words so far of what is being said; "" for none."""
        self.query_one(Live).words = words
        self.query_one(LatestHeard).words = words
