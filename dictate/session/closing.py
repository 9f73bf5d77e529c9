"""Closing a chart as final: asked about first, and not while anything else is asked."""

from __future__ import annotations

from dictate.chart.plan import plan_statements
from dictate.session.course import Course
from dictate.session.doubts import Doubt
from dictate.session.statement_data import CLOSE, REOPEN
from dictate.session.verdict import Verdict, refusal


def close(course: Course) -> Verdict:
    """Ask whether the chart is to be closed as final."""
    asked = [closes(each) for each in course.doubts]
    if any(asked):
        return Verdict("refused", "That was asked: say yes or no.")
    if asked:
        return Verdict("refused", doubts_first(len(asked)))
    plan = plan_statements(course.chart, [{"statement": CLOSE, "by": course.case.clinician}])
    if plan.is_impossible:
        return refusal(plan)
    assert plan.objection
    return Verdict("query", plan.objection.sentence, statements=plan.statements)


def reopen(course: Course) -> Verdict:
    """Open the chart again."""
    plan = plan_statements(course.chart, [{"statement": REOPEN}])
    return refusal(plan) if plan.objection else Verdict("charted", None, plan.happenings)


def closes(doubt: Doubt) -> bool:
    """Return whether a doubt asks whether the chart is to be closed."""
    return any(each["statement"] == CLOSE for each in doubt.heard.statements)


def doubts_first(number: int) -> str:
    """Return that so many doubts are in the way of closing, in a sentence."""
    return f"{number} {'doubt is' if number == 1 else 'doubts are'} open: answer first, then close."
