"""A record as one HL7 FHIR bundle (release 4B), built and validated with fhir.resources.

Release 4B, because what is used of it is the same in release 4, which most programs read. A
collection, because the whole of it hangs on a DiagnosticReport: a document would need a
narrative that the seal does not cover.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from datetime import datetime
from hashlib import sha1
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import ValidationError

from dictate.chart.case import Case, Dentition
from dictate.chart.chart import standing_utterances
from dictate.chart.events import (
    Charted,
    Closed,
    Decided,
    DentitionChosen,
    Event,
    Happening,
    Noted,
    Observed,
    Reopened,
)
from dictate.errors import DictateError
from dictate.exchange.codes import (
    CASES,
    DETAIL_WORDS,
    DIGEST,
    FORMAT,
    SIGNATURE_TYPE,
    TABLES,
    Data,
    coding,
    detail,
    plain,
    words_digest,
)
from dictate.exchange.resources import (
    Timed,
    case_facts,
    decision_resource,
    finding_resource,
    note_resources,
    observation_resources,
)
from dictate.exchange.sameness import digest_of
from dictate.exchange.visit import Status, Visit, frame, moment
from dictate.report.private_file import write_private
from dictate.report.record import Record

if TYPE_CHECKING:
    from fhir.resources.R4B.bundle import Bundle

VERSION = 1
"""The version of our use of FHIR that is written, and the newest that is read."""


def fhir_bundle(record: Record, pdf: bytes | None = None) -> Bundle:
    """Return the bundle of a record, with its page as a PDF attached where one is given.

    Raises DictateError where the record holds what FHIR cannot.
    """
    return validated(bundle_data(record, pdf))


def bundle_text(record: Record, pdf: bytes | None = None) -> str:
    """Return the bundle as JSON, validated. Raises DictateError as `fhir_bundle` does."""
    data = bundle_data(record, pdf)
    validated(data)
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_bundle(record: Record, path: Path, pdf: bytes | None = None) -> None:
    """Write the bundle as JSON (UTF-8, mode 0600, in one step). Raises DictateError when it
    cannot be made or written."""
    write_private(path, bundle_text(record, pdf))


def validated(data: Data) -> Bundle:
    """Return data as a bundle; raise DictateError with the first place that FHIR does not allow."""
    # Loaded here: what does not exchange anything must not wait for it.
    from fhir.resources.R4B.bundle import Bundle

    try:
        return Bundle.model_validate(data)
    except (LookupError, TypeError, AttributeError, RecursionError) as error:
        raise DictateError("it holds a resource that FHIR R4B does not have.") from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = " > ".join(str(part) for part in first["loc"])
        why = " ".join(first["msg"].split())  # some are of several lines
        raise DictateError(f"{place} is not as FHIR R4B has it: {why}.") from error


def bundle_data(record: Record, pdf: bytes | None = None) -> Data:
    """Return the bundle of a record as plain data, not validated."""
    closings = [each for each in record.events if isinstance(each.what, Closed | Reopened)]
    visit = Visit(_plain_case(record.case), _status(closings), record.chart.closed)
    signers = tuple(each.what.by for each in closings if isinstance(each.what, Closed))
    standing = Standing(record)
    issued = max((record.case.opened, *standing.times, *(each.time for each in closings)))
    resources = [*frame(visit, signers), *case_facts(visit, standing.dentition)]
    resources += [finding_resource(visit, each) for each in standing.findings]
    for seen in standing.observations:
        resources += observation_resources(visit, seen)
    for number, noted in enumerate(standing.notes, start=1):
        resources += note_resources(visit, number, noted)
    resources += [decision_resource(visit, each) for each in standing.decisions]
    resources.append(_report(visit, issued, resources, pdf))
    resources += [_provenance(visit, number, each) for number, each in enumerate(closings, 1)]
    tags = {FORMAT: str(VERSION), TABLES: words_digest(), DIGEST: digest_of(resources)}
    return {
        "resourceType": "Bundle",
        "id": visit.id("bundle"),
        "meta": {"tag": [coding(system, code) for system, code in tags.items()]},
        "identifier": {"system": CASES, "value": record.case.id},
        "type": "collection",
        "timestamp": moment(issued),
        "entry": [{"fullUrl": f"urn:uuid:{each['id']}", "resource": each} for each in resources],
    }


def _plain_case(case: Case) -> Case:
    """Return the case with nothing unseen in its words; names in old cases may have it."""
    words = {name: plain(value) for name, value in case if isinstance(value, str)}
    return case.model_copy(update=words)


class Standing:
    """What stands in a record with the time of its charting, each in the order of charting."""

    def __init__(self, record: Record) -> None:
        events = [event for group in standing_utterances(record.events) for event in group]
        found = _last_times(events, _places)
        seen = _last_times(events, _identities)
        self.findings = [Timed(each, found[each.place]) for each in record.findings]
        self.observations = [Timed(each, seen[each.identity]) for each in record.observations]
        self.notes = [
            Timed(event.what, event.time) for event in events if isinstance(event.what, Noted)
        ]
        decided = _last_times(events, _proposals)
        self.decisions = [Timed(each, decided[each.tooth, each.rule]) for each in record.decisions]
        self.dentition: Timed[Dentition] | None = None
        for event in events:
            if isinstance(event.what, DentitionChosen):
                self.dentition = Timed(event.what.dentition, event.time)

    @property
    def times(self) -> Iterator[datetime]:
        """The times of all of it."""
        yield from (each.time for each in self.findings)
        yield from (each.time for each in self.observations)
        yield from (each.time for each in self.notes)
        yield from (each.time for each in self.decisions)
        if self.dentition:
            yield self.dentition.time


def _last_times(
    events: Iterable[Event], made_by: Callable[[Happening], Iterable[Hashable]]
) -> dict[Hashable, datetime]:
    return {key: event.time for event in events for key in made_by(event.what)}


def _places(happening: Happening) -> Iterator[Hashable]:
    if isinstance(happening, Charted):
        yield from (finding.place for finding in happening.findings)


def _identities(happening: Happening) -> Iterator[Hashable]:
    if isinstance(happening, Observed):
        yield from (observation.identity for observation in happening.observations)


def _proposals(happening: Happening) -> Iterator[Hashable]:
    if isinstance(happening, Decided):
        yield happening.tooth, happening.rule


def _status(closings: Sequence[Event]) -> Status:
    """Return "preliminary" while a chart is open, also where it was opened again; then "final",
    "amended" from the second closing on."""
    if not closings or isinstance(closings[-1].what, Reopened):
        return "preliminary"
    return "final" if len(closings) == 1 else "amended"


def _report(visit: Visit, issued: datetime, resources: list[Data], pdf: bytes | None) -> Data:
    observations = (each for each in resources if each["resourceType"] == "Observation")
    return visit.resource(
        "DiagnosticReport",
        "report",
        status=visit.status,
        code=detail("dental_examination"),
        subject=visit.reference("patient"),
        encounter=visit.reference("visit"),
        effectiveDateTime=moment(visit.case.opened),
        issued=moment(issued),
        performer=visit.performers,
        result=[{"reference": f"urn:uuid:{each['id']}"} for each in observations],
        presentedForm=None if pdf is None else [_attached(pdf, issued)],
    )


def _attached(pdf: bytes, created: datetime) -> Data:
    """Return the page as an Attachment, whose hash is a SHA-1 (FHIR R4B, Attachment.hash): it
    tells damage, not deceit."""
    return {
        "contentType": "application/pdf",
        "data": b64encode(pdf).decode(),
        "size": len(pdf),
        "hash": b64encode(sha1(pdf, usedforsecurity=False).digest()).decode(),
        "title": DETAIL_WORDS["dental_examination"],
        "creation": moment(created),
    }


def _provenance(visit: Visit, number: int, event: Event) -> Data:
    closed = event.what if isinstance(event.what, Closed) else None
    who = visit.by(closed.by if closed else "")
    return visit.resource(
        "Provenance",
        "closing",
        number,
        target=[visit.reference("report")],
        recorded=moment(event.time),
        activity=detail("closed" if closed else "reopened"),
        agent=[{"who": who}],
        signature=[_signature(closed, event.time, who)] if closed and closed.seal else None,
    )


def _signature(closed: Closed, time: datetime, who: Data) -> Data:
    """Return the seal of a closing. It is over the chain of events, which only the record holds:
    with the record it can be checked, with the bundle alone it cannot."""
    seal = closed.seal.model_dump_json() if closed.seal else ""
    return {
        "type": [coding(SIGNATURE_TYPE, "1.2.840.10065.1.12.1.1", "Author's Signature")],
        "when": moment(time),
        "who": who,
        "sigFormat": "application/json",
        "data": b64encode(seal.encode()).decode(),
    }
