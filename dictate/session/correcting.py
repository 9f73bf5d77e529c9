"""Corrections: of a doubt that was just asked, else of what was charted last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dictate.chart.correction import is_change
from dictate.chart.plan import plan_statements
from dictate.session.answers import rejected
from dictate.session.course import TOOTH_ELSEWHERE, Course
from dictate.session.doubts import (
    Doubt,
    PutRight,
    doubt_about_tooth,
    is_about,
    put_right,
    with_followers,
)
from dictate.session.one_breath import charted_before, correct_in_part
from dictate.session.statement_data import clear, on_tooth
from dictate.session.statement_words import statement_in_words
from dictate.session.utterance import Utterance
from dictate.session.verdict import Verdict, question, refusal


def correct(course: Course, said: Utterance) -> Verdict:
    """Return what becomes of a correction."""
    statements = said.statements
    doubts = course.doubts_here
    asked = with_followers(doubts) if doubts and course.was_just_asked(doubts[-1]) else ()
    if any(is_change(each) for each in statements):
        statements = tuple(_named(each, course.chart.tooth_in_hand) for each in statements)
        asked = asked if is_about(asked, statements) else ()
    if asked and said.is_certain:
        right = put_right(asked, statements)
        before = charted_before(course.events, asked[-1].heard)
        right = correct_in_part(right, before, clear(statements))
        if isinstance(right, str):
            return Verdict("refused", right)
        if right is not None:
            return _put_doubt_right(course, said, asked, right)
    return _correct_charted(course, said, clear(statements))


def _named(statement: dict[str, Any], in_hand: int | None) -> dict[str, Any]:
    """Return a finding with the tooth in hand filled in, where it names none."""
    if "finding" not in statement or statement["finding"]["tooth"] is not None:
        return statement
    return on_tooth(statement, in_hand)


def _correct_charted(
    course: Course, said: Utterance, statements: Sequence[dict[str, Any]]
) -> Verdict:
    plan = course.plan(statements)
    if plan.leans and course.is_hand_unknown:
        return Verdict("refused", TOOTH_ELSEWHERE)
    if plan.leans and doubt_about_tooth(course.own):
        return Verdict("refused", "Which tooth is in doubt: answer that first.")
    if plan.is_impossible:
        return refusal(plan)
    doubt = question(said.hypothesis, said.reading, plan)
    if doubt:
        return Verdict("query", doubt, statements=plan.statements)
    return Verdict("charted", happenings=plan.happenings, statements=plan.statements)


def _put_doubt_right(
    course: Course, said: Utterance, asked: Sequence[Doubt], right: PutRight
) -> Verdict:
    """A correction right after a doubt puts it right. It settles it where all that it held was
    spoken again; else what it did not touch is asked again, with the correction."""
    plan = plan_statements(course.chart, right.statements)
    if plan.is_impossible:
        return refusal(plan)
    settled = rejected(asked)
    if not right.certain:
        words = ", ".join(statement_in_words(each) for each in plan.statements)
        return Verdict("query", f"{words}?", settled, plan.statements)
    reading_back = question(said.hypothesis, said.reading, replace(plan, objection=None))
    if reading_back is not None:
        return Verdict("query", reading_back, settled, plan.statements)
    marked = ({"statement": "correction"}, *plan.statements)
    return Verdict("charted", happenings=(*settled, *plan.happenings), statements=marked)
