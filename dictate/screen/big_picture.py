"""What is told across the room: the little that an examiner looks up for."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.chart.anatomy import Anatomy
from dictate.chart.chart import Chart, standing_utterances
from dictate.chart.events import Charted, Event, Heard, Observed, Outcome, Redone, Settled, Undone
from dictate.screen.account import asked_together, latest_accounts, planned_words
from dictate.screen.doubts import question_of
from dictate.screen.happenings import happening_words
from dictate.screen.signs import counted
from dictate.screen.status import Hearing
from dictate.screen.teeth_words import teeth_words
from dictate.session.doubts import held, held_instead
from dictate.session.session import Session
from dictate.session.statement_words import READINGS
from dictate.text import harmless


@dataclass(frozen=True)
class Asked:
    """The question that waits, what each answer to it would chart ("yes", "second", "third"), and
    how many more wait after it."""

    question: str
    readings: tuple[tuple[str, str], ...]
    more: int


@dataclass(frozen=True)
class BigPicture:
    """`tooth` is what is in hand, in words; `finding` what was charted last and still stands,
    without the number of the tooth in hand. `remark` is what became of the last utterance where
    that is not what `finding` says: it was refused, or it took something back."""

    hearing: Hearing
    tooth: str
    finding: str
    remark: tuple[Outcome, str] | None
    asked: Asked | None
    examined: int
    expected: int
    skipped: int


def picture_of(session: Session, hearing: Hearing) -> BigPicture:
    """Return what is told of a session as it stands."""
    chart = session.chart
    examined, expected, skipped = counted(chart)
    return BigPicture(
        hearing=hearing,
        tooth=teeth_words(chart.teeth_in_hand, chart.anatomy) or "no tooth",
        finding=_beside_tooth(_last_finding(session.events, chart.anatomy), chart),
        remark=_remark(session.events, chart.anatomy),
        asked=_asked(session),
        examined=examined,
        expected=expected,
        skipped=skipped,
    )


def _beside_tooth(words: str, chart: Chart) -> str:
    """Return words without the number that they begin with where it is that of the tooth in
    hand, which stands above them."""
    return words.removeprefix(f"{chart.tooth_in_hand}: ")


def _last_finding(events: tuple[Event, ...], anatomy: Anatomy) -> str:
    for utterance in reversed(standing_utterances(events)):
        found = [each.what for each in utterance if isinstance(each.what, Charted | Observed)]
        if found:
            return harmless(happening_words(found, {}, anatomy))
    return ""


def _remark(events: tuple[Event, ...], anatomy: Anatomy) -> tuple[Outcome, str] | None:
    last = next((each for each in reversed(events) if isinstance(each.what, Heard)), None)
    accounts = latest_accounts(events, 1, anatomy)
    if last is None or not accounts:
        return None
    account = accounts[0]
    changes = [e.what for e in events if e.utterance == last.utterance]
    goes_back = any(isinstance(what, Undone | Redone | Settled) for what in changes)
    charts = any(isinstance(what, Charted | Observed) for what in changes)
    if account.outcome == "refused" or (goes_back and not charts):
        return account.outcome, harmless(account.result)
    return None


def _asked(session: Session) -> Asked | None:
    doubts, chart = session.doubts_here, session.chart
    asked = asked_together(doubts)
    if not asked:
        return None
    readings = [("yes", planned_words(held(asked), chart.anatomy))]
    for number, name in READINGS.items():
        if number in asked[0].readings:
            readings.append((name, planned_words(held_instead(asked, number), chart.anatomy)))
    short = tuple((name, _beside_tooth(words, chart)) for name, words in readings)
    return Asked(question_of(asked[0]), short, len(doubts) - len(asked))
