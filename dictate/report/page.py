"""The record as one page to read or print."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Template
from markupsafe import Markup

from dictate.assessment.words import charted_since, plan_by_quadrant
from dictate.chart.anatomy import tooth_name
from dictate.chart.case import Case
from dictate.history.progression import AnimalHistory
from dictate.report.addendum_lines import addendum_lines, seal_lines
from dictate.report.case_lines import identity_lines, moment
from dictate.report.earlier_visits import MOST_SITES, earlier_section
from dictate.report.finding_lines import depth_lines, finding_lines, section_lines
from dictate.report.heard_lines import heard_lines
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.paper import CSS_SIZES, Paper
from dictate.report.record import Record
from dictate.report.standing import standing
from dictate.report.templating import page_environment
from dictate.report.visit_lines import (
    counts,
    left_lines,
    note_lines,
    observation_lines,
    proposal_lines,
)


def html_page(
    record: Record,
    generated: datetime | None = None,
    paper: Paper = "a4",
    history: AnimalHistory | None = None,
) -> str:
    """Return the record as one HTML page, in the order of a visit, that needs nothing outside
    it: no script, no link.

    `generated` is the moment stated on it, with a time zone; now where it is None. `history` adds
    the animal's earlier visits.
    """
    chart, heard = record.chart, heard_lines(record)
    found = record.follows
    return _template("record").render(
        case=record.case,
        identity=identity_lines(record.case, chart.dentition),
        opened=moment(record.case.opened),
        banner=standing(record),
        closed=chart.closed,
        seal=record.content_hash,
        paper=CSS_SIZES[paper],
        generated=moment(generated or datetime.now().astimezone()),
        counts=counts(record),
        doubts=[line for line in heard if line.doubt],
        addenda=addendum_lines(record),
        sealed=seal_lines(record),
        awake=observation_lines(chart, "head", "mouth"),
        soft_tissue=observation_lines(chart, "soft_tissue"),
        # Written by ElementTree, which escapes every text in it.
        drawing=Markup(mouth_svg(chart, "detailed")),  # noqa: S704
        findings=finding_lines(chart),
        depths=depth_lines(chart),
        normal=chart.anatomy.normal_probing_depth_mm,
        stages=found.stages,
        summary=found.summary,
        views=observation_lines(chart, "radiographs"),
        radiographs=section_lines(chart, "radiographs"),
        questions=found.questions,
        proposals=proposal_lines(found),
        plan=plan_by_quadrant(found),
        treatment=section_lines(chart, "treatment"),
        blocks_given=observation_lines(chart, "treatment"),
        notes=note_lines(chart),
        left=found.left,
        left_on_teeth=left_lines(found.left),
        heard=heard,
        tooth_name=tooth_name,
        charted_since=charted_since,
        earlier=_earlier(history, MOST_SITES),
    )


def history_page(case: Case, history: AnimalHistory, paper: Paper = "a4") -> str:
    """Return what became of an animal's mouth, with every site that tells, as one HTML page up to
    a case."""
    return _template("history").render(
        case=case,
        banner="Visits of one animal",
        paper=CSS_SIZES[paper],
        earlier=_earlier(history, None),
    )


def _earlier(history: AnimalHistory | None, most_sites: int | None) -> dict[str, Any] | None:
    """Return the section on earlier visits for a template, its charts as markup."""
    if history is None:
        return None
    section = earlier_section(history, most_sites)
    sites = [{**asdict(row), "chart": Markup(row.chart)} for row in section.sites]  # noqa: S704
    return {**asdict(section), "plot": Markup(section.plot), "sites": sites}  # noqa: S704


@cache
def _template(name: str) -> Template:
    folder = Path(__file__).resolve().parent / "templates"
    return page_environment(folder).get_template(f"{name}.html.j2")
