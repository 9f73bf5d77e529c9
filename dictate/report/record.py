"""The record of an examination: what is exported as JSON, and read back only if it is sound."""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal, NoReturn

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.chart.anatomy import tooth_name
from dictate.chart.case import Case
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Charted, Event, Redone, Skipped, ToothChosen, Undone
from dictate.chart.finding import Finding
from dictate.chart.rules import Objection, objection_to_finding, objection_to_tooth
from dictate.errors import DictateError
from dictate.report.private_file import write_private

VERSION = 1
"""The version of the format that this program writes, and the newest that it reads."""

_UNSEEN = re.compile("[\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff]")


class Tooth(BaseModel):
    """How far the charting of a tooth has come: "charted" with at least one finding, "skipped"
    when it was passed over and has none, "not charted" otherwise."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    tooth: int
    name: str
    state: Literal["charted", "skipped", "not charted"]


class Record(BaseModel):
    """One examination: whose mouth, everything that happened, and what stands at the end of it.

    `findings` and `teeth` follow from `events` and are there for readers that do not want to
    fold events themselves. `teeth` has the permanent teeth in charting order, then the
    deciduous teeth that carry findings.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        title="dictate record",
        json_schema_serialization_defaults_required=True,
    )
    format: Literal["dictate-record"] = "dictate-record"
    version: Literal[1] = 1
    case: Case
    events: tuple[Event, ...]
    findings: tuple[Finding, ...] = Field(description="What stands, in the order of charting.")
    teeth: tuple[Tooth, ...] = Field(description="How far each tooth has come.")

    @property
    def chart(self) -> Chart:
        """The chart that the events fold to."""
        return fold(blank_chart(self.case), self.events)


def record_of(case: Case, events: Sequence[Event]) -> Record:
    """Return the record of an examination; its findings and teeth are worked out from
    `events`, which are taken as they are."""
    chart = fold(blank_chart(case), events)
    return Record(case=case, events=tuple(events), findings=chart.findings, teeth=_teeth(chart))


def write_json(record: Record, path: Path) -> None:
    """Write the record as JSON (UTF-8, mode 0600, in one step). Characters that would not be
    seen stand as escapes. Raises DictateError when it cannot be written."""
    try:
        text = json.dumps(
            record.model_dump(mode="json"), indent=2, ensure_ascii=False, allow_nan=False
        )
    except ValueError as error:
        raise DictateError(
            f"{path.name} was not written: an event holds something that JSON cannot hold."
        ) from error
    text = _UNSEEN.sub(lambda unseen: f"\\u{ord(unseen[0]):04x}", text)
    write_private(path, text + "\n")


def read_json(path: Path) -> Record:
    """Return the record in a file.

    Raises DictateError when the file cannot be read, is no record, is of a newer version,
    has events missing or out of order, says what cannot be, or when its findings or teeth are
    not those that its events make.
    """
    try:
        text = path.read_text(encoding="utf-8")
        _check_header(_plain_json(text))
        record = Record.model_validate_json(text, strict=True)
        _check_events(record.case, record.events)
        _check_derived(record)
    except OSError as error:
        raise DictateError(f"{path.name} could not be read ({error.strerror}).") from error
    except DictateError as error:
        raise DictateError(f"{path.name}: {error}") from error
    except ValidationError as error:
        first = error.errors()[0]
        place = " > ".join(str(part) for part in first["loc"])
        raise DictateError(f"{path.name}: {place} does not fit: {first['msg']}.") from error
    except (ValueError, RecursionError) as error:
        raise DictateError(f"{path.name} is not a JSON file, or is damaged.") from error
    return record


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of an exported record."""
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | Record.model_json_schema(mode="serialization")


def schema_text() -> str:
    """Return the schema as the text of docs/record.schema.json."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _teeth(chart: Chart) -> tuple[Tooth, ...]:
    deciduous = (tooth for tooth in chart.anatomy.deciduous_teeth if tooth in chart.charted_teeth)
    return tuple(
        Tooth(tooth=tooth, name=tooth_name(tooth), state=_state(chart, tooth))
        for tooth in (*chart.anatomy.permanent_teeth, *deciduous)
    )


def _state(chart: Chart, tooth: int) -> Literal["charted", "skipped", "not charted"]:
    if tooth in chart.charted_teeth:
        return "charted"
    return "skipped" if tooth in chart.skipped else "not charted"


def _plain_json(text: str) -> Any:
    """Return the JSON as plain data; ValueError for NaN and for numbers too large for one."""

    def refused(word: str) -> NoReturn:
        raise ValueError(f"{word} is not a number of JSON")

    def finite(digits: str) -> float:
        number = float(digits)
        return number if math.isfinite(number) else refused(digits)

    return json.loads(text, parse_constant=refused, parse_float=finite)


def _check_header(data: Any) -> None:
    version = data.get("version") if isinstance(data, dict) else None
    if not isinstance(version, int) or data.get("format") != "dictate-record":
        raise DictateError("this is not a record of dictate.")
    if version > VERSION:
        raise DictateError(
            f"this record has format version {version} and this dictate reads up to {VERSION}: "
            "open it with a newer dictate."
        )


def _check_events(case: Case, events: Sequence[Event]) -> None:
    """Replay the events; raise DictateError at the first that cannot be."""
    chart = blank = blank_chart(case)
    for number, event in enumerate(events, start=1):
        if event.sequence != number:
            raise DictateError(
                f"event {number} is numbered {event.sequence}: events are missing or out of order."
            )
        objection = _objection(chart, event)
        if objection is not None and objection.verdict == "impossible":
            raise DictateError(f"event {number} cannot be true: {objection.sentence}")
        if isinstance(event.what, Undone | Redone):
            chart = fold(blank, events[:number])
        else:
            chart = chart.after(event.what)


def _objection(chart: Chart, event: Event) -> Objection | None:
    """Return what speaks against an event as a fact; a person may have confirmed what had to be
    asked, so that is no objection."""
    match event.what:
        case ToothChosen(tooth=tooth) | Skipped(tooth=tooth):
            return objection_to_tooth(chart, tooth)
        case Charted(findings=findings, replaced=replaced):
            chart = chart.after(Charted(findings=(), replaced=replaced))
            for finding in findings:
                objection = objection_to_finding(chart, finding, correcting=True)
                if objection is not None:
                    return objection
                chart = chart.after(Charted(findings=(finding,)))
    return None


def _check_derived(record: Record) -> None:
    """Raise DictateError naming the first thing that the events do not bear out."""
    derived = record_of(record.case, record.events)
    for finding in record.findings:
        if finding not in derived.findings:
            raise DictateError(
                f"it lists {finding.words()} on {finding.tooth}, but its events do not."
            )
    for finding in derived.findings:
        if finding not in record.findings:
            raise DictateError(
                f"its events chart {finding.words()} on {finding.tooth}, but its findings do not."
            )
    if record.findings != derived.findings:
        raise DictateError("its findings are not in the order in which its events chart them.")
    for said, found in zip(record.teeth, derived.teeth, strict=False):
        if said != found:
            raise DictateError(
                f"it calls tooth {said.tooth} ({said.name}) {said.state}, but by its events "
                f"that line is {found.tooth} ({found.name}), {found.state}."
            )
    if len(record.teeth) != len(derived.teeth):
        raise DictateError(
            f"it lists {len(record.teeth)} teeth, but its events make {len(derived.teeth)}."
        )


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(schema_text(), encoding="utf-8")
