"""What is read of a bundle in one form, so that two can be compared and one can have a digest."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from hashlib import sha256
from typing import Any

from dictate.exchange.codes import Data

_PASSING = {"DiagnosticReport": "presentedForm", "Provenance": "signature"}
"""Parts that are not read: the page, and seals, which are over the chain of the first record."""


def digest_of(resources: Iterable[Data]) -> str:
    """Return the SHA-256 of what is read of resources, 64 hexadecimal digits. It tells damage,
    not deceit."""
    return sha256("\n".join(read_of(each) for each in resources).encode()).hexdigest()


def read_of(resource: Data, words: bool = True) -> str:
    """Return what is read of a resource, in one form: without what other programs may add to it,
    and where `words` is not set without the words for people that codings have."""
    left_out = {"meta", "text", _PASSING.get(resource["resourceType"])}
    read = {name: value for name, value in resource.items() if name not in left_out}
    return json.dumps(_in_one_form(read, words), sort_keys=True)


def _in_one_form(part: Any, words: bool) -> Any:
    if isinstance(part, list):
        return [_in_one_form(each, words) for each in part]
    if isinstance(part, dict):
        dropped = () if words else ("display", *(["text"] if "coding" in part else []))
        return {
            name: _in_one_form(value, words) for name, value in part.items() if name not in dropped
        }
    if isinstance(part, int | float | Decimal) and not isinstance(part, bool):
        exact = Decimal(repr(part)) if isinstance(part, float) else Decimal(part)
        return f"number {exact.normalize()}"
    return part
