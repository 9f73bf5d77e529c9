"""Records of format version 1: findings and teeth only. They are read and brought up to date."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from dictate.chart.case import Case
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Event
from dictate.chart.finding import Finding
from dictate.report.borne_out import check_findings, check_teeth
from dictate.report.record_events import check_events
from dictate.report.tooth_state import Tooth, listed_teeth


class RecordVersion1(BaseModel):
    """One examination as version 1 kept it. `teeth` has the permanent teeth in charting order,
    then the deciduous teeth that carry findings; any finding made a tooth "charted"."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    format: Literal["dictate-record"]
    version: Literal[1]
    case: Case
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    teeth: tuple[Tooth, ...]


def read_version_1(text: str) -> tuple[Case, tuple[Event, ...]]:
    """Return case and events of a record of version 1, from which all else follows.

    Raises DictateError where its events cannot be or do not make its findings and teeth, and
    pydantic's ValidationError where it has another form.
    """
    record = RecordVersion1.model_validate_json(text, strict=True)
    check_events(record.case, record.events)
    chart = fold(blank_chart(record.case), record.events)
    check_findings(record.findings, chart.findings)
    check_teeth(record.teeth, _teeth(chart))
    return record.case, record.events


def _teeth(chart: Chart) -> tuple[Tooth, ...]:
    young = (tooth for tooth in chart.anatomy.deciduous_teeth if tooth in chart.charted_teeth)
    teeth = (*chart.anatomy.permanent_teeth, *young)
    return listed_teeth(teeth, chart.charted_teeth, chart.skipped)
