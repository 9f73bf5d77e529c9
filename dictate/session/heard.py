"""Utterances as their events keep them."""

from __future__ import annotations

from typing import Any

from dictate.chart.events import Heard
from dictate.session.statement_data import MISSED, START, STOP
from dictate.session.utterance import Utterance
from dictate.session.verdict import TYPED, Verdict, repairs_in_words
from dictate.speech.audio import UtteranceAudio
from dictate.speech.recogniser import Hypothesis


def heard_as(verdict: Verdict, said: Utterance, audio: UtteranceAudio | None) -> Heard:
    """Return an utterance with what became of it."""
    return Heard(
        text=verdict.words or said.hypothesis.text,
        outcome=verdict.outcome,
        reason=verdict.reason or repairs_in_words(said.reading),
        rule=verdict.rule,
        statements=verdict.statements or said.statements,
        score=_score(said.hypothesis),
        alternatives=verdict.alternatives,
        **_source(said.hypothesis, audio),
    )


def asked_by_key(verdict: Verdict, words: str) -> Heard:
    """Return what a key asked, with what became of it; `words` tell what it was."""
    return Heard(
        text=words,
        outcome=verdict.outcome,
        reason=verdict.reason,
        rule=verdict.rule,
        statements=verdict.statements,
        engine=TYPED,
    )


def unheard(reason: str, audio: UtteranceAudio) -> Heard:
    """Return an utterance of which nobody knows the words: it is refused."""
    return Heard(
        text="…",
        outcome="refused",
        reason=reason,
        rule=MISSED,
        statements=({"statement": MISSED},),
        engine="",
        file=audio.file,
        start_s=audio.start_s,
        end_s=audio.end_s,
    )


def of_attention(
    listening: bool, reason: str, hypothesis: Hypothesis, audio: UtteranceAudio | None
) -> Heard:
    """Return what started or stopped listening."""
    return Heard(
        text=hypothesis.text,
        outcome="charted",
        reason=reason,
        statements=({"statement": START if listening else STOP},),
        score=_score(hypothesis),
        **_source(hypothesis, audio),
    )


def spoken_note(hypothesis: Hypothesis, audio: UtteranceAudio) -> Heard:
    """Return a note as it was heard: nobody has verified its words."""
    return Heard(
        text=hypothesis.text,
        outcome="charted",
        reason="Kept as a note, not verified.",
        statements=({"statement": "noted"},),
        **_source(hypothesis, audio),
    )


def _score(hypothesis: Hypothesis) -> float | None:
    return None if hypothesis.engine == TYPED else hypothesis.score


def _source(hypothesis: Hypothesis, audio: UtteranceAudio | None) -> dict[str, Any]:
    """Return where an utterance came from, as its event keeps it."""
    at = {} if audio is None else {"start_s": audio.start_s, "end_s": audio.end_s}
    return {"engine": hypothesis.engine, "file": audio.file if audio else None, **at}
