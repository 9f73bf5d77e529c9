"""What does not fit together over the whole chart: questions, never corrections."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from dictate.assessment.question_rules import MOUTH_RULES, TOOTH_RULES, Details
from dictate.assessment.tooth import Tooth, teeth_in
from dictate.chart.chart import Chart


class QuestionRow(BaseModel):
    """One row of questions.toml: a sentence with names in braces, and its source."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    sentence: str
    source: str


@dataclass(frozen=True)
class Question:
    """What is to be asked about a tooth, by which rule, and where that comes from."""

    tooth: int
    rule: str
    sentence: str
    source: str


@cache
def question_rows() -> Mapping[str, QuestionRow]:
    """Return the table of questions by rule, in the order of the file."""
    with (Path(__file__).resolve().parent / "questions.toml").open("rb") as file:
        return {rule: QuestionRow(**row) for rule, row in tomllib.load(file).items()}


def questions(chart: Chart) -> tuple[Question, ...]:
    """Return what is to be asked about a chart, by tooth in charting order, then by rule."""
    return tuple(
        question
        for tooth in teeth_in(chart)
        for rule in question_rows()
        if (question := _asked(chart, tooth, rule)) is not None
    )


def _asked(chart: Chart, tooth: Tooth, rule: str) -> Question | None:
    details = _details(chart, tooth, rule)
    if details is None:
        return None
    row = question_rows()[rule]
    return Question(
        tooth=tooth.number,
        rule=rule,
        sentence=row.sentence.format(tooth=tooth.number, **details),
        source=row.source,
    )


def _details(chart: Chart, tooth: Tooth, rule: str) -> Details | None:
    of_tooth: Callable[[Tooth], Details | None] | None = TOOTH_RULES.get(rule)
    return of_tooth(tooth) if of_tooth is not None else MOUTH_RULES[rule](chart, tooth)
