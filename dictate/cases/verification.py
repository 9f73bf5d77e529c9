"""Whether a case, or a record that was exported, is as it was charted, in words."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

from dictate.cases.stored import case_store
from dictate.chart.case import Case, shown
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.folders import data_folder
from dictate.integrity.chain import shown_hash
from dictate.integrity.seal import fingerprint, own_key
from dictate.integrity.verify import Sealed, Verification, verify
from dictate.report.record import read_json
from dictate.report.record_events import check_events

_RECORD = ".json"


class AlteredError(Exception):
    """What was checked is not as it was charted; the text says where."""


def case_verified(case_id: str) -> list[str]:
    """Return what was found of a case in the store, in lines; raise AlteredError where it was
    altered, DictateError where it cannot be read."""
    kept = case_store().as_kept(case_id)
    name = f"Case {case_id}"
    if kept.trouble is not None:
        raise AlteredError(f"{name} was altered: {kept.trouble}")
    return _checked(name, kept.case, kept.events, kept.hashes)


def file_verified(path: Path) -> list[str]:
    """Return what was found of a record, in lines; raise AlteredError where it was altered,
    DictateError where there is none, or where it is of another kind."""
    if not path.is_file():
        raise DictateError(f"There is no file {shown(str(path))}: check its name.")
    if path.suffix.lower() != _RECORD:
        raise DictateError(
            f"{path.name} cannot be checked by itself: compare the content hash printed on it with "
            "the one that “dictate verify” prints for the case."
        )
    try:
        record = read_json(path)
    except DictateError as error:
        raise AlteredError(f"Not as it was written: {error}") from error
    hashes = record.hashes if _has_hashes(path) else (None,) * len(record.events)
    return _checked(path.name, record.case, record.events, hashes)


def _has_hashes(path: Path) -> bool:
    """Return whether a record that can be read states hashes: earlier versions stated none."""
    return bool(json.loads(path.read_text(encoding="utf-8")).get("hashes"))


def _checked(
    name: str, case: Case, events: Sequence[Event], hashes: Sequence[str | None]
) -> list[str]:
    """Return what was found, in lines; raise AlteredError where it was altered."""
    found = verify(case, events, hashes)
    troubles = list(found.troubles)
    try:
        check_events(case, events)
    except DictateError as error:
        troubles += [] if troubles else [str(error)]
    if troubles:
        raise AlteredError(f"{name} was altered: {troubles[0]}")
    return [*_summary(name, found, hashes), *_seals(found, events)]


def _summary(name: str, found: Verification, hashes: Sequence[str | None]) -> Iterator[str]:
    yield f"{name}: {_count(found.events)}, none changed, left out or moved; the rules allow all."
    unkept = sum(each is None for each in hashes)
    if unkept:
        yield (
            f"For {unkept} of them no hash was kept: they are of an earlier version, and only "
            "their numbers, seals and rules were checked."
        )
    yield f"Content hash {shown_hash(found.head)}"


def _seals(found: Verification, events: Sequence[Event]) -> Iterator[str]:
    times = {each.sequence: each.time for each in events}
    own = own_key(data_folder())
    for seal in found.seals:
        yield (
            f"Sealed by {seal.by or 'nobody named'} on "
            f"{times[seal.number].astimezone():%d %B %Y %H:%M}, key {seal.key} {_whose(seal, own)}."
        )
    if not found.seals:
        yield "Not sealed: a chart is sealed when it is closed as final."
    elif found.unsealed:
        yield f"{_count(found.unsealed)} came after the last seal."


def _whose(seal: Sealed, own: str | None) -> str:
    ours = own is not None and fingerprint(own) == seal.key
    return "(this station's own)" if ours else "(of another station)"


def _count(number: int) -> str:
    return f"{number} event{'' if number == 1 else 's'}"
