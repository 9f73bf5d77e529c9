"""What the files are called that hold the sound of notes."""

from __future__ import annotations

import re

_CLIP = re.compile(r"([a-z0-9][a-z0-9-]*)-[0-9]{1,7}(-[0-9a-f]{8})?\.flac", re.ASCII)


def clip_name(case_id: str, number: int, station: str = "") -> str:
    """Return the name of the sound of a note: of a case, of the utterance of a number, and, where
    several stations chart the case, of a station by the first 8 digits of its id."""
    mark = f"-{station[:8]}" if station else ""
    return f"{case_id}-{number}{mark}.flac"


def case_of_clip(name: str) -> str | None:
    """Return the id of the case that a sound of this name belongs to, None where it is no such
    name; none leads out of the folder of the sounds."""
    found = _CLIP.fullmatch(name)
    return found[1] if found else None
