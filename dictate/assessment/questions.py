"""What does not fit together over the whole chart: questions, never corrections."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from dictate.assessment.question_rules import MOUTH_RULES, TOOTH_RULES, Details
from dictate.assessment.tooth import Tooth, teeth_in
from dictate.assessment.visit_question_rules import VISIT_RULES, VISIT_TOOTH_RULES
from dictate.chart.chart import Chart


class QuestionRow(BaseModel):
    """One row of questions.toml: a sentence with names in braces, and its source."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    sentence: str
    source: str


@dataclass(frozen=True)
class Question:
    """What is to be asked about a tooth, or about the mouth where `tooth` is None, by which rule,
    and where that comes from."""

    tooth: int | None
    rule: str
    sentence: str
    source: str


@cache
def question_rows() -> Mapping[str, QuestionRow]:
    """Return the table of questions by rule, in the order of the file."""
    with (Path(__file__).resolve().parent / "questions.toml").open("rb") as file:
        return {rule: QuestionRow(**row) for rule, row in tomllib.load(file).items()}


def questions(chart: Chart) -> tuple[Question, ...]:
    """Return what is to be asked about a chart: first about the mouth, then by tooth in charting
    order, each by rule."""
    of_mouth = ((None, rule, VISIT_RULES[rule](chart)) for rule in VISIT_RULES)
    of_teeth = (
        (tooth.number, rule, _details(chart, tooth, rule))
        for tooth in teeth_in(chart)
        for rule in question_rows()
        if rule not in VISIT_RULES
    )
    return tuple(
        _question(tooth, rule, details)
        for tooth, rule, details in (*of_mouth, *of_teeth)
        if details is not None
    )


def _question(tooth: int | None, rule: str, details: Details) -> Question:
    row = question_rows()[rule]
    return Question(tooth, rule, row.sentence.format(tooth=tooth, **details), row.source)


def _details(chart: Chart, tooth: Tooth, rule: str) -> Details | None:
    of_tooth = TOOTH_RULES.get(rule) or VISIT_TOOTH_RULES.get(rule)
    return of_tooth(tooth) if of_tooth is not None else MOUTH_RULES[rule](chart, tooth)
