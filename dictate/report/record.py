"""The record of an examination: what is exported as JSON, and read back only if it is sound."""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Callable, Sequence
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal, NoReturn

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.assessment.assessment import Assessment, assess
from dictate.chart.case import Case, Dentition
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Decided, Event, Noted
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.errors import DictateError
from dictate.integrity.chain import hashes_of, head_of, shown_hash
from dictate.integrity.verify import verify
from dictate.report.assessed import AssessmentData, assessment_data
from dictate.report.borne_out import (
    check_assessment,
    check_decisions,
    check_findings,
    check_notes,
    check_observations,
    check_teeth,
)
from dictate.report.private_file import write_private
from dictate.report.record_events import check_events
from dictate.report.tooth_state import Tooth, teeth_of
from dictate.report.version_1 import read_version_1
from dictate.text import in_short

VERSION = 3
"""The version of the format that this program writes, and the newest that it reads."""

_UNSEEN = re.compile("[\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff]")


_NO_DIGEST = '"digest": ""'
_DIGEST = re.compile('"digest": "[0-9a-f]{64}"')


class Record(BaseModel):
    """One examination: whose mouth, everything that happened, and what stands at the end of it.

    All but `case` and `events` follows from these two and is there for readers that do not want
    to fold events themselves. `teeth` has the expected teeth of the dentition in charting order,
    then any other that carries findings.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        title="dictate record",
        json_schema_serialization_defaults_required=True,
    )
    format: Literal["dictate-record"] = "dictate-record"
    version: Literal[3] = 3
    digest: str = Field(
        default="", description="SHA-256 of this file as it is without these digits."
    )
    case: Case
    events: tuple[Event, ...]
    hashes: tuple[str, ...] = Field(
        description="The hash of each event (dictate/integrity/chain.py); the last covers all."
    )
    dentition: Dentition = Field(description="The dentition as it was stated last.")
    findings: tuple[Finding, ...] = Field(description="What stands, in the order of charting.")
    teeth: tuple[Tooth, ...] = Field(description="How far each tooth has come.")
    observations: tuple[Observation, ...] = Field(
        description="What stands beside the teeth; `covered` was not spoken for itself."
    )
    notes: tuple[Noted, ...] = Field(description="Notes, in the order of taking.")
    decisions: tuple[Decided, ...] = Field(
        description="The last decision on every proposal that was decided on."
    )
    assessment: AssessmentData = Field(description="What follows; a clinician decides.")

    @property
    def content_hash(self) -> str:
        """The hash that covers all of it, as printed: the first 32 of its digits, in fours."""
        return shown_hash(head_of(self.case, self.events))

    @property
    def chart(self) -> Chart:
        """The chart that the events fold to."""
        return fold(blank_chart(self.case), self.events)

    @cached_property
    def follows(self) -> Assessment:
        """What follows from the chart; it takes a while to work out."""
        return assess(self.case, self.chart)


def record_of(case: Case, events: Sequence[Event]) -> Record:
    """Return the record of an examination; all else is worked out from `case` and `events`,
    which are taken as they are."""
    chart = fold(blank_chart(case), events)
    found = assess(case, chart)
    record = Record(
        case=case,
        events=tuple(events),
        hashes=tuple(hashes_of(case, events)),
        dentition=chart.dentition,
        findings=chart.findings,
        teeth=teeth_of(chart),
        observations=chart.observations,
        notes=chart.notes,
        decisions=chart.decisions,
        assessment=assessment_data(found),
    )
    # Not to be worked out a second time; the record itself is frozen.
    object.__setattr__(record, "follows", found)
    return record


def write_json(record: Record, path: Path) -> None:
    """Write the record as JSON (UTF-8, mode 0600, in one step). Raises DictateError when it
    cannot be written."""
    write_private(path, json_text(record, path.name))


def json_text(record: Record, name: str) -> str:
    """Return the record as JSON. Characters that would not be seen stand as escapes. Raises
    DictateError, in the name of its file, for what JSON cannot hold."""
    try:
        text = json.dumps(
            record.model_dump(mode="json"), indent=2, ensure_ascii=False, allow_nan=False
        )
        text = _UNSEEN.sub(lambda unseen: f"\\u{ord(unseen[0]):04x}", text)
        return _with_digest(text + "\n")
    except ValueError as error:
        raise DictateError(
            f"{name} was not written: an event holds something that JSON cannot hold."
        ) from error


def _with_digest(text: str) -> str:
    """Return the text of a record with the digest of all else in it."""
    digest = sha256(text.encode()).hexdigest()
    return text.replace(_NO_DIGEST, f'"digest": "{digest}"', 1)


def _check_digest(text: str) -> None:
    stated = _DIGEST.search(text)
    if stated is None or _with_digest(_DIGEST.sub(_NO_DIGEST, text, count=1)) != text:
        raise DictateError("it was altered after it was written: use another copy.")


def read_json(path: Path) -> Record:
    """Return the record in a file; one of version 1 is brought up to date, and an assessment
    that was worked out by other rules is worked out anew.

    Raises DictateError when the file cannot be read, is no record, is of a newer version,
    has events missing or out of order, says what cannot be, or what its events do not make.
    """
    try:
        text = path.read_bytes()
    except OSError as error:
        raise DictateError(f"{path.name} could not be read ({error.strerror}).") from error
    return record_in(text, path.name)


def record_in(content: bytes, name: str) -> Record:
    """Return the record that a file of this name holds, as `read_json` does and raises."""
    return _in_words(name, lambda: _record(_text(content)))


def kept_record(content: bytes, name: str) -> Record:
    """Return the record of version 3 that a file of this name holds, as it was kept: its digest and
    its chain of hashes are checked, but not whether today's rules allow what it says. Raises
    DictateError as `read_json` does."""
    return _in_words(name, lambda: _kept(_text(content)))


def _text(content: bytes) -> str:
    # A file that went through another system may end its lines as that system does.
    return content.decode("utf-8").replace("\r\n", "\n")


def _kept(text: str) -> Record:
    _plain_json(text)
    record = Record.model_validate_json(text, strict=True)
    _check_hashes(record)
    _check_digest(text)
    return record


def _record(text: str) -> Record:
    data = _plain_json(text)
    version = _version(data)
    if version == 1:
        return record_of(*read_version_1(text))
    if version == 2:
        return _borne_out(Record.model_validate_json(_from_version_2(data), strict=True))
    record = _borne_out(Record.model_validate_json(text, strict=True))
    _check_digest(text)
    return record


def _in_words(name: str, read: Callable[[], Record]) -> Record:
    """Return what is read; raise DictateError, with the file's name, for whatever stands in the
    way."""
    try:
        return read()
    except DictateError as error:
        raise DictateError(in_short(f"{name}: {error}")) from error
    except ValidationError as error:
        first = error.errors()[0]
        place = " > ".join(str(part) for part in first["loc"])
        raise DictateError(in_short(f"{name}: {place} does not fit: {first['msg']}.")) from error
    except (ValueError, RecursionError) as error:
        raise DictateError(f"{name} is not a JSON file, or is damaged.") from error


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of an exported record."""
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return dialect | Record.model_json_schema(mode="serialization")


def schema_text() -> str:
    """Return the schema as the text of docs/record.schema.json."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _plain_json(text: str) -> Any:
    """Return the JSON as plain data; ValueError for NaN and for numbers too large for one."""

    def refused(word: str) -> NoReturn:
        raise ValueError(f"{word} is not a number of JSON")

    def finite(digits: str) -> float:
        number = float(digits)
        return number if math.isfinite(number) else refused(digits)

    return json.loads(text, parse_constant=refused, parse_float=finite)


def _version(data: Any) -> int:
    version = data.get("version") if isinstance(data, dict) else None
    if type(version) is not int or data.get("format") != "dictate-record":
        raise DictateError("this is not a record of dictate.")
    if version > VERSION:
        raise DictateError(
            f"this record has format version {version} and this dictate reads up to {VERSION}: "
            "open it with a newer dictate."
        )
    return version


def _borne_out(record: Record) -> Record:
    """Return the record that its events make; raise DictateError naming the first thing stated
    that the events do not bear out."""
    check_events(record.case, record.events)
    if record.hashes:
        _check_hashes(record)
    derived = record_of(record.case, record.events)
    if record.dentition != derived.dentition:
        raise DictateError(
            f"it states a {record.dentition} dentition, but its events make it {derived.dentition}."
        )
    check_findings(record.findings, derived.findings)
    check_teeth(record.teeth, derived.teeth)
    check_observations(record.observations, derived.observations)
    check_notes(record.notes, derived.notes)
    check_decisions(record.decisions, derived.decisions)
    check_assessment(record.assessment, derived.assessment)
    return derived


def _from_version_2(data: dict[str, Any]) -> str:
    """Return a record of version 2, which had no hashes, as one of today without any."""
    return json.dumps({**data, "version": VERSION, "hashes": []})


def _check_hashes(record: Record) -> None:
    if len(record.hashes) != len(record.events):
        counts = f"{len(record.hashes)} hashes for {len(record.events)} events"
        raise DictateError(f"it states {counts}: some are missing.")
    troubles = verify(record.case, record.events, record.hashes).troubles
    if troubles:
        raise DictateError(troubles[0])


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(schema_text(), encoding="utf-8")
