"""What becomes of doubts when they are answered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from dictate.chart.chart import Chart, standing_utterances
from dictate.chart.events import Happening, Settled, TeethChosen, ToothChosen
from dictate.session.closing import closes, doubts_first
from dictate.session.course import Course
from dictate.session.doubts import (
    CHOICES,
    Doubt,
    held,
    held_instead,
    last_choice,
    with_followers,
)
from dictate.session.statement_data import by_number
from dictate.session.verdict import Verdict, refusal

Answer = Literal["confirmed", "rejected", "repeated"]

_ASKED_ELSEWHERE = "That is asked at another station: answer there, or among all open questions."


def answer(course: Course, confirmed: bool, reading: int = 1, number: int | None = None) -> Verdict:
    """Settle the doubt about an utterance, by the `number` of that; None: the one that was asked
    last here."""
    doubts = course.doubts if number is not None else course.doubts_here
    meant = [each for each in doubts if number in (None, each.number)]
    if not meant and course.doubts and number is None:
        return Verdict("refused", _ASKED_ELSEWHERE)
    if not meant:
        return Verdict("refused", "Nothing was asked.")
    asked = with_followers(doubts, meant[-1])
    if not confirmed:
        return Verdict("charted", happenings=rejected(asked))
    return settle(course, asked, "confirmed", reading)


def settle(course: Course, asked: Sequence[Doubt], how: Answer, reading: int = 1) -> Verdict:
    """Chart what doubts hold, by that reading of the first, as one thing said, unless a rule
    forbids it. A tooth that was taken in hand since then stays in hand."""
    waiting = held(asked) if reading == 1 else held_instead(asked, reading)
    if isinstance(waiting, str):
        return Verdict("refused", waiting)
    if closes(asked[0]) and len(course.doubts) > len(asked):
        return Verdict("refused", doubts_first(len(course.doubts) - len(asked)))
    standing = standing_utterances(course.events)
    charted_since = bool(standing) and standing[-1][0].utterance > asked[0].number
    if charted_since and any(each["statement"] == "correction" for each in waiting):
        return Verdict("refused", "More was charted since: say the correction again.")
    plan = course.plan([by_number(each) for each in waiting])
    if plan.is_impossible:
        return refusal(plan)
    if plan.objection and plan.objection.sentence != asked[-1].heard.reason:
        return Verdict("query", plan.objection.sentence, rejected(asked), plan.statements)
    first, *followers = asked
    answered = (settled(first, how, reading), *(settled(each, how) for each in followers))
    if first.number in course.others:
        # The tooth that they have in hand there is not the one in hand here.
        found = [each for each in plan.happenings if each.event not in CHOICES]
        return Verdict("charted", happenings=(*answered, *found))
    chosen_since = last_choice(course.own) > asked[-1].number
    stay = _taken_in_hand(course.chart) if chosen_since else ()
    return Verdict("charted", happenings=(*answered, *plan.happenings, *stay))


def settled(doubt: Doubt, how: Answer, reading: int = 1) -> Settled:
    """Return that a doubt was answered, by that reading of it."""
    return Settled(of=doubt.number, answer=how, chosen=reading if reading > 1 else None)


def rejected(asked: Iterable[Doubt]) -> tuple[Settled, ...]:
    """Return that doubts were answered by no."""
    return tuple(settled(each, "rejected") for each in asked)


def _taken_in_hand(chart: Chart) -> tuple[Happening, ...]:
    """Return what takes in hand again what is in hand now."""
    if chart.several_in_hand:
        return (TeethChosen(teeth=chart.several_in_hand),)
    return () if chart.tooth_in_hand is None else (ToothChosen(tooth=chart.tooth_in_hand),)
