"""The voices that are kept: one folder for each clinician, readable by its owner alone."""

from __future__ import annotations

import hashlib
import re
import shutil
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path

from pydantic import AwareDatetime, BaseModel, ConfigDict, ValidationError

from dictate.enrolment.acoustic_model import acoustic_model
from dictate.errors import DictateError
from dictate.folders import data_folder, made_data_folder
from dictate.report.private_file import write_private
from dictate.speech.front_end import Suppression
from dictate.speech.transform import Transform, mllr_text, read_mllr
from dictate.text import harmless

MLLR_FILE = "mllr"
ABOUT_FILE = "voice.json"
LONGEST_NAME = 200


class Gain(BaseModel):
    """What a voice was worth on phrases that it was not made from.

    `checked` counts these phrases; `likelihood` is by how much the log likelihood per frame of
    speech rose. Of the phrases, so many were `understood` rightly and surely, and so many were
    `wrong`, understood otherwise and surely, before and after.
    """

    model_config = ConfigDict(frozen=True)

    checked: int
    likelihood: float
    understood_before: int
    understood_after: int
    wrong_before: int
    wrong_after: int


class Voice(BaseModel):
    """Whose voice it is, when and from how many phrases it was made, for which engine
    and which model (SHA-256 of its means), and the SHA-256 of its transform."""

    model_config = ConfigDict(frozen=True)

    clinician: str
    enrolled: AwareDatetime
    phrases: int
    engine: str
    model: str
    transform: str
    gain: Gain


@dataclass(frozen=True)
class FoundVoice:
    """The file that the engine takes for a clinician, or why theirs cannot be used; neither where
    they have not enrolled."""

    mllr: Path | None = None
    problem: str | None = None


def voices_folder() -> Path:
    """Return the folder of the voices; it need not exist yet."""
    return data_folder() / "voices"


def keep_voice(
    clinician: str, transform: Transform, phrases: int, gain: Gain, now: datetime
) -> Voice:
    """Keep a clinician's voice in place of an older one, and return what is kept beside it.

    Raises DictateError where the name is none or nothing can be written.
    """
    name = clinician_name(clinician)
    text = mllr_text(transform)
    voice = Voice(
        clinician=name,
        enrolled=now,
        phrases=phrases,
        engine=_engine(),
        model=acoustic_model().digest,
        transform=_sha256(text),
        gain=gain,
    )
    made_data_folder()
    folder = _folder_of(name)
    try:
        for each in (folder.parent, folder):
            each.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise DictateError(
            f"The folder {folder} cannot be made ({error.strerror}): check who may write there."
        ) from error
    write_private(folder / MLLR_FILE, text)
    write_private(folder / ABOUT_FILE, voice.model_dump_json(indent=2) + "\n")
    return voice


def find_voice(clinician: str) -> FoundVoice:
    """Return what there is of a clinician's voice; never raises, for charting goes on without."""
    key = clinician.strip()
    folder = _folder_of(key)
    if not key or not folder.exists():
        return FoundVoice()
    again = f"run “dictate voice enrol” for {harmless(key)} again; until then charting goes on "
    again += "without it."
    try:
        voice = Voice.model_validate_json((folder / ABOUT_FILE).read_bytes())
        text = (folder / MLLR_FILE).read_text(encoding="ascii")
        read_mllr(text)
        current = voice.engine == _engine() and voice.model == acoustic_model().digest
    except (OSError, ValueError, DictateError):
        return FoundVoice(problem=f"The kept voice is damaged: {again}")
    if voice.transform != _sha256(text):
        return FoundVoice(problem=f"The kept voice is damaged: {again}")
    if not current:
        return FoundVoice(problem=f"The kept voice was made for another engine: {again}")
    return FoundVoice(mllr=folder / MLLR_FILE)


def kept_voices() -> tuple[Voice, ...]:
    """Return the voices that can be read, by name."""
    found = []
    for path in voices_folder().glob(f"*/{ABOUT_FILE}"):
        try:
            found.append(Voice.model_validate_json(path.read_bytes()))
        except (OSError, ValidationError):
            continue
    return tuple(sorted(found, key=lambda voice: voice.clinician.casefold()))


def remove_voice(clinician: str) -> None:
    """Remove a clinician's voice; raises DictateError where there is none or it stays."""
    folder = _folder_of(clinician)
    if not folder.is_dir():
        known = ", ".join(voice.clinician for voice in kept_voices())
        there = f"there are {harmless(known)}" if known else "none is kept"
        raise DictateError(f"No voice of {harmless(clinician)} is kept: {there}.")
    try:
        shutil.rmtree(folder)
    except OSError as error:
        raise DictateError(
            f"The folder {folder} cannot be removed ({error.strerror}): remove it by hand."
        ) from error


def clinician_name(clinician: str) -> str:
    """Return a name without spaces around it; raises DictateError where none is left, or it
    cannot be shown."""
    name = clinician.strip()
    if not name or harmless(name) != name or len(name) > LONGEST_NAME:
        raise DictateError(
            f"Give the clinician's name as in “dictate chart --clinician”, in 1 to {LONGEST_NAME} "
            "plain characters."
        )
    return name


def _folder_of(clinician: str) -> Path:
    """Return the folder of a name: legible, safe in any file system, and its own for every name
    but for capitals and spaces."""
    same = " ".join(unicodedata.normalize("NFKC", clinician).casefold().split())
    plain = unicodedata.normalize("NFKD", same).encode("ascii", "ignore").decode()
    legible = re.sub("[^a-z0-9]+", "-", plain).strip("-")[:40]
    return voices_folder() / f"{legible or 'voice'}-{_sha256(same)[:8]}"


def _engine() -> str:
    """Return what the transform was made for: the release, and how noise is suppressed before it,
    for that changes the features."""
    return f"pocketsphinx {version('pocketsphinx')}, {_sha256(repr(Suppression()))[:8]}"


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
