"""What becomes of findings that were said: charted, asked about in whole or in part, or refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dictate.chart.chart import Chart
from dictate.chart.draft import Plan, chart_with
from dictate.chart.events import Alternative
from dictate.chart.plan import plan_statements
from dictate.session.answers import settle, settled
from dictate.session.course import TOOTH_ELSEWHERE, Course
from dictate.session.doubts import (
    CHOICES,
    Doubt,
    doubt_about_tooth,
    teeth_asked_about,
    tooth_was_refused,
)
from dictate.session.part_doubt import divided, whole_alternatives
from dictate.session.statement_data import clear, moves_on
from dictate.session.utterance import Utterance
from dictate.session.verdict import Verdict, not_understood, question, refusal


def chart_or_ask(course: Course, said: Utterance) -> Verdict:
    """Return what becomes of what was said about the visit."""
    understood = clear(said.statements)
    if not understood:
        return not_understood(said.hypothesis)
    plan = plan_statements(_known_teeth(course), understood)
    if plan.leans or moves_on(understood):
        if waiting := doubt_about_tooth(course.own):
            return _follow(course.chart, waiting, understood)
        if reason := _no_tooth_to_lean_on(course, plan):
            return Verdict("refused", reason, statements=said.statements, rule="tooth")
    if plan.is_impossible:
        return refusal(plan)
    if not plan.happenings:
        return not_understood(said.hypothesis)
    repeated = [each for each in course.doubts_here if each.reading_of(plan.statements)]
    if repeated and said.is_certain:
        number = repeated[-1].reading_of(plan.statements) or 1
        verdict = settle(course, repeated[-1:], "repeated", number)
        return replace(verdict, statements=plan.statements)
    if (in_part := _ask_in_part(course, said)) is not None:
        return in_part
    if asked := question(said.hypothesis, said.reading, plan):
        return _ask(course, said, plan, asked)
    remarks = " ".join(plan.remarks) or None
    again = [(each, each.reading_within(plan.statements)) for each in course.doubts_here]
    answered = tuple(settled(each, "repeated", number) for each, number in again if number)
    return Verdict("charted", remarks, (*answered, *plan.happenings), plan.statements)


def _known_teeth(course: Course) -> Chart:
    """Return the chart with the teeth that a question is open about passed over: they are not
    among "the rest of the mouth" before it is answered."""
    open_teeth = teeth_asked_about(course.doubts)
    if not open_teeth:
        return course.chart
    return course.chart.model_copy(update={"skipped": course.chart.skipped | open_teeth})


def _follow(chart: Chart, doubt: Doubt, statements: Sequence[dict[str, Any]]) -> Verdict:
    """What names no tooth waits with the doubt about which one it is."""
    named = plan_statements(chart, clear(doubt.heard.statements))
    plan = plan_statements(chart_with(chart, named.happenings), statements)
    if plan.is_impossible:
        return refusal(plan)
    following = tuple({**each, "follows": doubt.number} for each in plan.statements)
    return Verdict("query", f"Waits for: {doubt.heard.text}.", statements=following)


def _no_tooth_to_lean_on(course: Course, plan: Plan) -> str | None:
    """Return why what names no tooth cannot go to the one in hand, None where it can."""
    if course.is_hand_unknown:
        return TOOTH_ELSEWHERE
    if tooth_was_refused(course.own) and not plan.is_impossible:
        return "The tooth named last was refused: say which tooth."
    return None


def _ask_in_part(course: Course, said: Utterance) -> Verdict | None:
    """Ask about what doubtful words belong to, and chart the rest; None where all of the
    utterance must be asked about, or refused."""
    heard = said.hypothesis
    if heard.trust != "doubtful" or not heard.doubtful_words:
        return None
    part = divided(course.chart, heard, said.reading, said.read_instead)
    if part is None:
        return None
    certain = replace(heard, trust="sure", doubtful_words=())
    sure = chart_or_ask(course, replace(said, hypothesis=certain, reading=part.sure))
    if sure.outcome != "charted":
        return None
    plan = plan_statements(chart_with(course.chart, sure.happenings), part.asked)
    return Verdict(
        "query",
        question(heard, said.reading, plan),
        statements=part.asked,
        alternatives=part.alternatives,
        words=part.words,
        sure=sure,
    )


def _ask(course: Course, said: Utterance, plan: Plan, asked: str) -> Verdict:
    """Ask about all of it; a tooth that was named beyond doubt is in hand at once."""
    unclear = tuple(each for each in said.statements if each["statement"] == "unclear")
    chosen = (each for each in plan.happenings if said.is_certain and each.event in CHOICES)
    return Verdict(
        "query",
        asked,
        tuple(chosen),
        (*plan.statements, *unclear),
        alternatives=_alternatives(course, said, plan),
    )


def _alternatives(course: Course, said: Utterance, plan: Plan) -> tuple[Alternative, ...]:
    if said.hypothesis.trust != "doubtful" or not said.reading.is_clear:
        return ()
    may_lean = not doubt_about_tooth(course.own) and not tooth_was_refused(course.own)
    return whole_alternatives(course.chart, said.hypothesis, plan, said.read_instead, may_lean)
