"""The view of help: all that can be asked of the screen, and all that can be said, searched and
done from there."""

from __future__ import annotations

from typing import ClassVar

from textual.message import Message

from dictate.grammar.card import Phrases, spoken_phrases
from dictate.grammar.spoken import SpokenLanguages
from dictate.screen.actions import ACTIONS, Action
from dictate.screen.view import Listing, Row

_HOW = {
    "anywhere": "",
    "plan": " (while the plan is shown)",
    "findings": " (while the findings are shown)",
}


class HelpView(Listing):
    """What can be done and said. Enter does what a row of the first kind says, and puts the phrase
    of the second kind on the line to type on."""

    title: ClassVar[str] = "Help · type a word to search · ↑↓ choose · Enter does it · Esc back"
    searched: ClassVar[str] = "search: furcation, undo, missing, sounds …"

    class ActionChosen(Message):
        """Something is to be done."""

        def __init__(self, action: Action) -> None:
            super().__init__()
            self.action = action

    class PhraseChosen(Message):
        """A phrase is to be typed."""

        def __init__(self, phrase: str) -> None:
            super().__init__()
            self.phrase = phrase

    def __init__(self, languages: SpokenLanguages) -> None:
        super().__init__()
        self._actions = {f"action-{place}": each for place, each in enumerate(ACTIONS)}
        self._phrases = {
            f"phrase-{place}": each for place, each in enumerate(spoken_phrases(languages))
        }

    def open(self) -> None:
        """Show all rows."""
        self.take_rows(
            [
                *(_action_row(key, each) for key, each in self._actions.items()),
                *(_phrase_row(key, each) for key, each in self._phrases.items()),
            ]
        )
        super().open()

    def choose(self, row: Row) -> None:
        """Ask for what the row stands for."""
        if row.key in self._actions:
            self.post_message(self.ActionChosen(self._actions[row.key]))
        else:
            self.post_message(self.PhraseChosen(self._phrases[row.key].examples[0]))


def _action_row(key: str, action: Action) -> Row:
    said = f"say “{action.say}”" if action.say else "no word: it does not listen while it speaks"
    return Row(key, f"{action.key:<4}{action.does}", f"{said}{_HOW[action.where]}")


def _phrase_row(key: str, phrases: Phrases) -> Row:
    said = " · ".join(f"“{example}”" for example in phrases.examples)
    return Row(key, phrases.title, f"({phrases.part})", (said, phrases.description))
