"""What came from an engine or the keyboard, and what it is read as."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from dictate.chart.events import CONTEXTS, GO_TO_NAMES, Context
from dictate.grammar.spoken import SpokenLanguages
from dictate.phrases.reading import Reading, read_typed, read_utterance
from dictate.phrases.statements import Command
from dictate.session.statement_data import as_data
from dictate.session.verdict import TYPED
from dictate.speech.recogniser import Hypothesis


@dataclass(frozen=True)
class Utterance:
    """Words, and what they are read as in a part of the visit (`context`)."""

    hypothesis: Hypothesis
    reading: Reading
    languages: SpokenLanguages
    context: Context

    @property
    def statements(self) -> tuple[dict[str, Any], ...]:
        """What it states, as plain data."""
        return tuple(as_data(each) for each in self.reading.statements)

    @property
    def is_certain(self) -> bool:
        """Whether it was heard beyond doubt, and means one thing."""
        return self.reading.is_clear and self.hypothesis.trust == "sure"

    def read_instead(self, text: str) -> Reading:
        """Return the reading of another sentence, read as this one was."""
        return read(self.languages, self.context, replace(self.hypothesis, text=text)).reading

    def other_part(self) -> str | None:
        """Return the other part of the visit in which it is a clear sentence, by the name that it
        is gone to; None where there is none."""
        for context in CONTEXTS:
            elsewhere = context != self.context
            if elsewhere and read_utterance(self.languages[context], self.hypothesis.text).is_clear:
                return GO_TO_NAMES[context]
        return None

    def is_only(self, *commands: str) -> bool:
        """Return whether it is one of these commands, and no more."""
        return self.reading.statements in [(Command(each),) for each in commands]


def read(languages: SpokenLanguages, context: Context, hypothesis: Hypothesis) -> Utterance:
    """Return what words are read as in a part of the visit; typed ones in any part."""
    if hypothesis.engine == TYPED:
        reading = read_typed(languages.beginning_with(context), hypothesis.text)
    else:
        reading = read_utterance(languages[context], hypothesis.text)
    return Utterance(hypothesis, reading, languages, context)
