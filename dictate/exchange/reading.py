"""Reads a bundle of ours back: all of it, or nothing with one sentence that says why."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from heapq import merge
from itertools import count
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from dictate.chart.case import Case
from dictate.chart.events import (
    Charted,
    Decided,
    DentitionChosen,
    Event,
    Happening,
    Heard,
    Noted,
    Observed,
)
from dictate.chart.finding import Finding
from dictate.chart.kinds import ROOT_KINDS
from dictate.errors import DictateError
from dictate.exchange.bundle import VERSION, bundle_data, validated
from dictate.exchange.codes import (
    CASES,
    DETAIL_WORDS,
    DIGEST,
    FORMAT,
    TABLES,
    Data,
    plain,
    words_digest,
)
from dictate.exchange.limits import MOST_ENTRIES, check_words, plain_json, read_text
from dictate.exchange.parsing import DAMAGED, Parsed, parse
from dictate.exchange.resources import Timed
from dictate.exchange.sameness import digest_of, read_of
from dictate.report.record import Record, record_of
from dictate.report.record_events import check_events
from dictate.text import in_short

ENGINE = "import"
"""What stands for the engine of an utterance that was read from a bundle."""


def read_bundle(source: Path | str, now: datetime) -> Record:
    """Return the record of a bundle, in a file or as JSON text, that this program made.

    Its events say that it was imported, and `now`; each finding keeps its time. Raises
    DictateError, one sentence, when the bundle cannot be read, is no FHIR, was made by another
    program, was changed or damaged, or says what cannot be.
    """
    name = source.name if isinstance(source, Path) else "The bundle"
    text = read_text(source) if isinstance(source, Path) else source
    try:
        return _record(plain_json(text), plain(name)[:100], now)
    except DictateError as error:
        raise DictateError(in_short(f"{name} {error}")) from error


def _record(data: Any, name: str, now: datetime) -> Record:
    _check_ours(data)
    check_words(data)
    try:
        validated(data)
    except DictateError as error:
        raise DictateError(f"is no sound FHIR bundle: {error}") from error
    try:
        given = {each["fullUrl"]: each["resource"] for each in data["entry"]}
        twice = len(given) != len(data["entry"])
        if twice or digest_of(given.values()) not in _tags(data, DIGEST):
            raise _changed(data)
        parsed = parse(given)
        events = tuple(_events(parsed, f"Imported from the FHIR bundle {name}", now))
    except (ValidationError, *DAMAGED) as error:
        raise _changed(data) from error
    return _checked(data, given, parsed.case, events)


def _changed(data: Data, where: str = "") -> DictateError:
    if words_digest() not in _tags(data, TABLES):
        return DictateError(
            f"was made by a dictate that has other tables, or was changed{where}: "
            "import the record of the case instead."
        )
    return DictateError(f"was changed or damaged after dictate made it{where}: export it again.")


def _checked(data: Data, given: Data, case: Case, events: tuple[Event, ...]) -> Record:
    """Return the record, once its events are possible and make the bundle that was given: what
    is not read, or read otherwise than it was meant, is found here."""
    check_words([case.model_dump(mode="json"), [each.model_dump(mode="json") for each in events]])
    try:
        check_events(case, events)
    except DictateError as error:
        raise DictateError(f"says what cannot be: {error}") from error
    record = record_of(case, events)
    again = {each["fullUrl"]: each["resource"] for each in bundle_data(record)["entry"]}
    words = words_digest() in _tags(data, TABLES)
    for url, resource in given.items():
        if url not in again or read_of(resource, words) != read_of(again[url], words):
            raise _changed(data, f" ({resource['resourceType']} {url.rpartition(':')[2]})")
    if len(given) != len(again) or data["identifier"]["value"] != case.id:
        raise _changed(data)
    return record


def _check_ours(data: Any) -> None:
    if not isinstance(data, dict) or data.get("resourceType") != "Bundle":
        raise DictateError("is not a FHIR bundle: give a bundle or a record that dictate made.")
    identifier = data.get("identifier")
    ours = isinstance(identifier, dict) and identifier.get("system") == CASES
    versions = _tags(data, FORMAT)
    if not ours or len(versions) != 1 or not versions[0].isdecimal():
        raise DictateError(
            "is a FHIR bundle of another program, whose findings dictate cannot be sure of: "
            "chart them by hand."
        )
    if int(versions[0]) > VERSION:
        raise DictateError(
            f"is a bundle of version {versions[0]} and this dictate reads up to {VERSION}: "
            "open it with a newer dictate."
        )
    entries = data.get("entry")
    if not isinstance(entries, list) or not 0 < len(entries) <= MOST_ENTRIES:
        raise _changed(data)


def _tags(data: Data, system: str) -> list[str]:
    meta = data.get("meta")
    tags = meta.get("tag") if isinstance(meta, dict) else None
    tags = tags if isinstance(tags, list) else []
    return [
        str(each.get("code", ""))[:64]
        for each in tags
        if isinstance(each, dict) and each.get("system") == system
    ]


def _events(parsed: Parsed, words: str, now: datetime) -> Iterator[Event]:
    """Yield the events of an import: what was imported, then everything at its own time, each as
    an utterance of its own, so that it can be taken back alone."""
    yield _event(1, 1, now, Heard(text=words, outcome="charted", engine=ENGINE))
    for number, each in zip(count(2, 2), _happenings(parsed)):
        said = Heard(text=_words(each.what), outcome="charted", engine=ENGINE)
        yield _event(number, number, each.time, said)
        yield _event(number + 1, number, each.time, each.what)


def _event(number: int, utterance: int, time: datetime, what: Happening) -> Event:
    return Event(sequence=number, utterance=utterance, time=time, what=what)


def _happenings(parsed: Parsed) -> Iterator[Timed[Happening]]:
    """Yield what happened in order of time; what is of one kind stays in its own order even where
    a clock was set back."""
    stated = parsed.dentition
    yield from merge(
        [Timed[Happening](DentitionChosen(dentition=stated.what), stated.time)] if stated else [],
        _charted(parsed.findings),
        [Timed[Happening](Observed(observations=(e.what,)), e.time) for e in parsed.observations],
        [Timed[Happening](each.what, each.time) for each in parsed.notes],
        [Timed[Happening](each.what, each.time) for each in parsed.decisions],
        key=lambda each: each.time,
    )
    yield from (Timed[Happening](each.what, each.time) for each in parsed.closings)


def _charted(findings: list[Timed[Finding]]) -> Iterator[Timed[Happening]]:
    """Yield findings as they were charted. A root of a missing tooth that was charted again after
    other findings is charted before them too, since they may be there only because of it."""
    missing = {each.what.tooth for each in findings if each.what.kind == "missing"}
    roots: dict[int, list[Finding]] = {}
    for each in findings:
        if each.what.kind in ROOT_KINDS and each.what.tooth in missing:
            roots.setdefault(each.what.tooth, []).append(each.what)
    for each in findings:
        for root in roots.pop(each.what.tooth, ()):
            if root != each.what:
                yield Timed(Charted(findings=(root,)), each.time)
        yield Timed(Charted(findings=(each.what,)), each.time)


def _words(happening: Happening) -> str:
    """Return what happened in words, such as "208 pocket 5 mm mesial"."""
    match happening:
        case Charted(findings=(finding,)):
            return f"{finding.tooth} {finding.words()}"
        case Observed(observations=(observation,)):
            return observation.words()
        case Noted(text=text):
            return f"note: {text}"
        case DentitionChosen(dentition=dentition):
            return f"{dentition} dentition"
        case Decided(tooth=tooth, rule=rule, decision=decision):
            return f"{tooth} {rule} {decision}"
        case _:
            return DETAIL_WORDS[happening.event]
