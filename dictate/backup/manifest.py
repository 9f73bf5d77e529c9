"""What a backup says that it holds: manifest.json, its first member."""

from __future__ import annotations

import re
from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from dictate.chart.clip_names import case_of_clip
from dictate.integrity.chain import case_hash
from dictate.report.record import Record
from dictate.retention.log import LOG_FILE

MANIFEST = "manifest.json"

KEY = "seal.key"

OWN_FILES = (
    "settings.toml",
    "practice.toml",
    "formulary.toml",
    "words.txt",
    "pronunciations.txt",
    LOG_FILE,
)
"""The files of a practice's own in the data folder, beside its cases, sounds and voices."""

_SHA256 = r"^[0-9a-f]{64}$"
_CASE = re.compile(r"cases/([a-z0-9][a-z0-9-]{0,63})\.json", re.ASCII)
_VOICE = re.compile(r"voices/[a-z0-9][a-z0-9-]{0,60}/(mllr|voice\.json)", re.ASCII)


class _Stated(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Member(_Stated):
    """A member of the file: its name, its size in bytes and its SHA-256."""

    name: str
    size: int = Field(ge=0)
    sha256: str = Field(pattern=_SHA256)


class CaseStated(_Stated):
    """A case: how many events it has, and the hash that covers all of it."""

    id: str
    events: int = Field(ge=0)
    head: str = Field(pattern=_SHA256)

    @classmethod
    def of(cls, record: Record) -> CaseStated:
        """Return what is stated of the case of a record, whose hashes are right."""
        head = record.hashes[-1] if record.hashes else case_hash(record.case)
        return cls(id=record.case.id, events=len(record.events), head=head)


class Manifest(_Stated):
    """What a backup holds, and when and with which dictate it was written. `gone` names sounds of
    notes that were there no more."""

    format: Literal["dictate-backup"] = "dictate-backup"
    version: Literal[1] = 1
    dictate: str
    written: AwareDatetime
    cases: tuple[CaseStated, ...]
    members: tuple[Member, ...]
    gone: tuple[str, ...] = ()

    @property
    def events(self) -> int:
        """How many events its cases have."""
        return sum(case.events for case in self.cases)

    @property
    def clips(self) -> tuple[str, ...]:
        """The names of the clips, as the notes name them."""
        return tuple(clip for each in self.members if (clip := clip_in(each.name)))

    @property
    def own(self) -> tuple[str, ...]:
        """The names of the members that are neither cases nor clips."""
        return tuple(
            each.name
            for each in self.members
            if case_in(each.name) is None and clip_in(each.name) is None
        )

    @property
    def has_key(self) -> bool:
        """Whether it holds the key that seals charts."""
        return any(each.name == KEY for each in self.members)


def case_in(name: str) -> str | None:
    """Return the id of the case that a member of this name holds, None where it holds none."""
    found = _CASE.fullmatch(name)
    return found[1] if found else None


def clip_in(name: str) -> str | None:
    """Return the clip that a member of this name holds, None where it holds none."""
    folder, _, clip = name.partition("/")
    return clip if folder == "clips" and case_of_clip(clip) else None


def is_voice(name: str) -> bool:
    """Return whether a member of this name is a file of a voice."""
    return _VOICE.fullmatch(name) is not None


def belongs(name: str) -> bool:
    """Return whether a backup may have a member of this name: none leads out of a folder."""
    return (
        name in (*OWN_FILES, KEY)
        or case_in(name) is not None
        or clip_in(name) is not None
        or is_voice(name)
    )
