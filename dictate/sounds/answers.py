"""Which sound answers which outcome, by the settings."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from dictate.chart.events import Heard
from dictate.session.statement_data import SOUNDS_OFF, SOUNDS_ON, START, STOP
from dictate.settings import SoundSettings
from dictate.sounds.player import Answer, Output, Player, PlayerEvent, SpeakerOutput
from dictate.sounds.readback import outcome_in_words
from dictate.sounds.spoken import speech
from dictate.sounds.tones import Sound, ToneName, tone
from dictate.sounds.turns import Turns

_OWN_TONES: dict[str, ToneName] = {START: "started", STOP: "stopped"}
_JOIN_S = 1.0


class Answers:
    """Answers utterances by sound. `turns` are shared with the listener; `say` makes words into
    sound. Nothing is played before `begin` and after `end`."""

    def __init__(
        self,
        settings: SoundSettings,
        turns: Turns,
        output: Output | None = None,
        say: Callable[[str, SoundSettings], Sound] = speech,
    ) -> None:
        self._settings = settings
        self._turns = turns
        self._output = output or SpeakerOutput()
        self._say = say
        self._player: Player | None = None
        self.are_on = settings.tones or settings.read_back != "off"

    def begin(self, tell: Callable[[PlayerEvent], None]) -> None:
        """Be ready to play; what the player tells goes to `tell`, on its own thread."""
        self._player = Player(self._output, self._turns, tell)
        self._player.start()

    def end(self) -> None:
        """Play nothing more."""
        if self._player is not None:
            self._player.stop()
            self._player.join(_JOIN_S)

    def silence(self) -> None:
        """End what is being played."""
        if self._player is not None:
            self._player.cut()

    def turn(self, on: bool) -> None:
        """Answer by sound, or only on the screen; with all sounds off in the settings, by tones."""
        self.are_on = on
        if not on:
            self.silence()

    def use(self, settings: SoundSettings) -> None:
        """Answer by these settings from now on. Sounds that a person turned off stay off, unless
        it was changed which there are."""
        before, self._settings = self._settings, settings
        self._turns.expect_echo(settings.echo_s)
        if (settings.tones, settings.read_back) != (before.tones, before.read_back):
            self.turn(settings.tones or settings.read_back != "off")

    def to(
        self, heard: Heard, alternatives: Sequence[str] = (), charted: Heard | None = None
    ) -> None:
        """Answer an utterance; `alternatives` are what else the engine may have heard. `charted` is
        the rest of it, where a part only is asked about."""
        kinds = [each["statement"] for each in heard.statements]
        if heard.outcome == "charted" and kinds in ([SOUNDS_OFF], [SOUNDS_ON]):
            self.turn(kinds == [SOUNDS_ON])
        if self._player is None or not self.are_on:
            return
        attention = heard.outcome == "charted" and len(kinds) == 1 and kinds[0] in _OWN_TONES
        if attention:
            # What was to be said before is of no use to one who has just told it what to do.
            self.silence()
        name = _OWN_TONES[kinds[0]] if attention else heard.outcome
        words = "" if attention else self._words(heard, alternatives, charted)
        self._player.play(
            Answer(
                tone(name, self._settings.volume) if self._has_tones else None,
                (lambda: self._say(words, self._settings)) if words else None,
            )
        )

    def not_saved(self) -> None:
        """Answer what could not be saved."""
        if self._player is not None and self.are_on:
            self._player.play(Answer(tone("refused", self._settings.volume)))

    @property
    def _has_tones(self) -> bool:
        return self._settings.tones or self._settings.read_back == "off"

    def _words(self, heard: Heard, alternatives: Sequence[str], charted: Heard | None) -> str:
        wanted = self._settings.read_back
        if wanted == "all" and charted is not None:
            return f"{outcome_in_words(charted)}. {outcome_in_words(heard, alternatives)}"
        if wanted == "all" or (wanted == "doubts" and heard.outcome == "query"):
            return outcome_in_words(heard, alternatives)
        return ""
