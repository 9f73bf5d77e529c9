"""Undo and redo of what one utterance charted."""

from __future__ import annotations

from dictate.chart.chart import standing_utterances, undone_utterances
from dictate.chart.events import Closed, Redone, Reopened, Undone
from dictate.session.answers import answer, rejected
from dictate.session.course import Course
from dictate.session.one_breath import asked_with
from dictate.session.verdict import Verdict

_CHARTED_ELSEWHERE = "Another station has charted since: name the tooth, and what to take back."


def undo(course: Course) -> Verdict:
    """Take back what was charted last, or the question that was just asked."""
    doubts = course.doubts_here
    standing = standing_utterances(course.events)
    last = standing[-1][0].utterance if standing else None
    just_asked = bool(doubts) and course.was_just_asked(doubts[-1])
    if just_asked and (last is None or doubts[-1].heard.part_of != last):
        return answer(course, confirmed=False)
    if last is None:
        return Verdict("refused", "There is nothing to undo.")
    if last in course.others:
        return Verdict("refused", _CHARTED_ELSEWHERE)
    if any(isinstance(each.what, Closed | Reopened) for each in standing[-1]):
        return Verdict("refused", "Closing a chart and opening it again are not undone.")
    return Verdict("charted", happenings=(*rejected(asked_with(doubts, last)), Undone(of=last)))


def redo(course: Course) -> Verdict:
    """Chart again what was taken back last."""
    undone = undone_utterances(course.events)
    if not undone:
        return Verdict("refused", "There is nothing to redo.")
    last = undone[-1][0].utterance
    if last in course.others:
        return Verdict("refused", _CHARTED_ELSEWHERE)
    return Verdict("charted", happenings=(Redone(of=last),))
