"""What becomes of an utterance, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dictate.chart.draft import Plan
from dictate.chart.events import Alternative, Happening, Outcome
from dictate.chart.observation import Observation
from dictate.phrases.normalise import spoken_words
from dictate.phrases.reading import Reading
from dictate.phrases.statements import Unclear
from dictate.speech.recogniser import Hypothesis

TYPED = "keyboard"
"""The engine of what was typed."""


@dataclass(frozen=True)
class Verdict:
    """What becomes of an utterance, the sentence that says why, what happens, and the statements
    and the rule that are kept with it. A query may have `alternatives`, and be about some `words`
    only: then `sure` is what becomes of the rest."""

    outcome: Outcome
    reason: str | None = None
    happenings: tuple[Happening, ...] = ()
    statements: tuple[dict[str, Any], ...] = ()
    rule: str | None = None
    alternatives: tuple[Alternative, ...] = ()
    words: str | None = None
    sure: Verdict | None = None


def not_understood(hypothesis: Hypothesis) -> Verdict:
    """Return the refusal of words that mean nothing."""
    return Verdict("refused", f"Not understood: {hypothesis.text}.", rule="unclear")


def refusal(plan: Plan) -> Verdict:
    """Return the refusal of what a plan's objection forbids."""
    assert plan.objection
    return Verdict(
        "refused", plan.objection.sentence, (), plan.statements, rule=plan.objection.rule
    )


_DENIALS = frozenset("not no never isn't aren't wasn't hasn't without".split())
_TAKING_BACK = frozenset("clear remove delete cancel erase undo scratch".split())
_ASKING = frozenset("is are was does has".split())


def denial(reading: Reading, text: str) -> str | None:
    """Return why words that deny, take back or ask cannot be charted, None where they do none of
    it: nobody is to confirm by “yes” what was denied."""
    unclear = {
        word
        for each in reading.statements
        if isinstance(each, Unclear)
        for word in spoken_words(each.text)
    }
    if not _DENIALS.isdisjoint(unclear):
        return "Something was denied: say “not …” alone, or what is there."
    if not _TAKING_BACK.isdisjoint(unclear):
        return "Something was to be taken back: say “clear” and the tooth alone, or “undo”."
    asks = bool(reading.words) and reading.words[0] in _ASKING
    if asks or text.rstrip().endswith("?"):
        return "That was a question: say what is there."
    return None


def question(hypothesis: Hypothesis, reading: Reading, plan: Plan) -> str | None:
    """Return what must be asked before a plan is charted, None where nothing must."""
    if not reading.is_clear:
        unclear = [each.text for each in reading.statements if isinstance(each, Unclear)]
        return f"Not understood: {', '.join(unclear)}."
    if plan.objection:
        return plan.objection.sentence
    if hypothesis.trust != "sure":
        return hypothesis.reason or "Heard unclearly."
    if hypothesis.engine != TYPED:
        return next((_read_back(each) for each in plan.statements if _names_agent(each)), None)
    return None


def _names_agent(statement: Mapping[str, Any]) -> bool:
    return bool(statement.get("observation", {}).get("agent"))


def _read_back(statement: Mapping[str, Any]) -> str:
    """Return the question by which an agent is read back: names of agents sound alike, so a
    spoken one is never charted unasked."""
    return f"{Observation(**statement['observation']).words()}?"


def repairs_in_words(reading: Reading) -> str | None:
    """Return the words that were read as others, None where there are none."""
    if not reading.repairs:
        return None
    return ", ".join(f"“{each.heard}” read as {each.taken}" for each in reading.repairs) + "."
