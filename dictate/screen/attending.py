"""The keys that start and stop listening and sounds, and what the player tells."""

from __future__ import annotations

from abc import abstractmethod
from time import monotonic

from textual import on
from textual.message import Message

from dictate.screen.actions import LISTEN_ACTION
from dictate.screen.following import Following
from dictate.screen.status import Hearing
from dictate.session.session import Session
from dictate.settings import AttentionSettings
from dictate.sounds.answers import Answers
from dictate.sounds.player import PlayerEvent, Silent, Speaking

_REPEATED_S = 0.75
"""A key that comes again so soon is held down: keyboards repeat it, and a foot stays a while."""


class PlayerTold(Message):
    """What the player told, on its way from its thread to the screen's."""

    def __init__(self, event: PlayerEvent) -> None:
        super().__init__()
        self.event = event


class Attending(Following):
    """The part of the program that listens or does not, and answers by sound. The foot-switch does
    what F5 does."""

    _hearing: Hearing = "typing"

    def __init__(
        self, session: Session, attention: AttentionSettings, answers: Answers | None
    ) -> None:
        super().__init__()
        self._session = session
        self._answers = answers
        self._is_speaking = False
        self._pressed_at = -_REPEATED_S
        if attention.foot_switch:
            self.set_keymap({"attention": f"{LISTEN_ACTION.keys},{attention.foot_switch}"})

    @abstractmethod
    def begin_listening(self) -> None:
        """Let a listener begin."""

    @abstractmethod
    def show_hearing(self, hearing: Hearing) -> None:
        """Show whether anything is heard."""

    def begin_answering(self) -> None:
        """Be ready to answer by sound."""
        if self._answers is not None:
            self._answers.begin(self._pass_on_from_player)

    def end_answering(self) -> None:
        """Answer no more."""
        if self._answers is not None:
            self._answers.end()

    def _pass_on_from_player(self, event: PlayerEvent) -> None:
        """Take what the player tells, on its thread, to the screen's."""
        self.post_message(PlayerTold(event))

    @on(PlayerTold)
    def _take_player_told(self, message: PlayerTold) -> None:
        match message.event:
            case Speaking(now):
                self._is_speaking = now
                self.show_hearing(self._hearing)
            case Silent(problem):
                self.tell_for_a_while("sounds", problem)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the key that ends a sound to others while there is none."""
        if action == "silence":
            return self._is_speaking
        return super().check_action(action, parameters)

    def action_turn_attention(self) -> None:
        """Stop listening, or start again; after a problem with the sound, begin anew."""
        held_down = monotonic() - self._pressed_at < _REPEATED_S
        self._pressed_at = monotonic()
        if held_down or self._hearing in ("typing", "ended"):
            return
        if self._hearing == "stopped":
            self.begin_listening()
            if self._session.is_listening:
                return
        if self._session.is_listening:
            self.take_from_key("stop listening", self._session.stop_listening)
        else:
            self.take_from_key("start listening", self._session.start_listening)

    def action_turn_sounds(self) -> None:
        """Answer by sound, or only on the screen."""
        if self._answers is not None:
            words = "sounds off" if self._answers.are_on else "sounds on"
            self.take_from_key(words, lambda: self._session.turn_sounds(words))

    def action_silence(self) -> None:
        """End what is being read back."""
        if self._answers is not None:
            self._answers.silence()
