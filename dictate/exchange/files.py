"""Which of the two a file is: a record or a FHIR bundle; and the record of either."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from dictate.errors import DictateError
from dictate.exchange.limits import plain_json, read_text
from dictate.exchange.reading import read_bundle
from dictate.report.record import Record, read_json


def read_case(path: Path, now: datetime | None = None) -> Record:
    """Return the record of a file that dictate made: a record (JSON of any version) or a bundle.

    `now`, with a time zone, is when it is imported; the present where it is None. Raises
    DictateError, one sentence, when it is neither or cannot be trusted.
    """
    try:
        data = plain_json(read_text(path))
    except DictateError as error:
        named = str(error).startswith(path.name)
        raise error if named else DictateError(f"{path.name} {error}") from error
    if isinstance(data, dict) and "resourceType" in data:
        return read_bundle(path, now or datetime.now(UTC))
    return read_json(path)
