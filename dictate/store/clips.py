"""The sound of spoken notes: one file a note, readable by its owner alone."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path

import soundfile

from dictate.chart.clip_names import clip_name
from dictate.errors import DictateError
from dictate.folders import make_private
from dictate.report.private_file import write_private
from dictate.speech.audio import SAMPLE_RATE, Samples


class ClipStore:
    """A folder of clips, made with mode 0700 when the first is kept."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keeper(self, case_id: str, station: str = "") -> Callable[[Samples, int], str]:
        """Return what keeps the samples (shape (n,), 16 kHz) of a note of that case, spoken in
        the utterance of a number, and returns the name of its file (`clip_name`).

        It raises DictateError where the file cannot be written; a clip that is there is never
        written over.
        """

        def keep(samples: Samples, number: int) -> str:
            path = self._folder / clip_name(case_id, number, station)
            try:
                make_private(self._folder)
                descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
                with os.fdopen(descriptor, "wb") as file:
                    soundfile.write(file, samples, SAMPLE_RATE, format="FLAC", subtype="PCM_16")
                    file.flush()
                    os.fsync(file.fileno())
            except (OSError, soundfile.LibsndfileError) as error:
                raise DictateError(
                    f"The note's sound cannot be kept in {self._folder} ({error}): type the note "
                    "after “note:”, or make room and say “take a note” again."
                ) from error
            return path.name

        return keep

    def path(self, name: str) -> Path:
        """Return where a clip lies; raises DictateError for a name that leads elsewhere."""
        if Path(name).name != name or name in ("", ".", ".."):
            raise DictateError(f"{name!r} is no name of a clip.")
        return self._folder / name

    def names(self) -> list[str]:
        """Return the names of the clips that are there; raises DictateError where the folder
        cannot be read."""
        try:
            return sorted(path.name for path in self._folder.glob("*.flac"))
        except OSError as error:
            raise DictateError(f"{self._folder} could not be read ({error.strerror}).") from error

    def copy(self, names: Iterable[str], folder: Path) -> list[Path]:
        """Copy clips into a folder, readable by their owner alone, and return their paths; a clip
        that is gone is left out. Raises DictateError where one cannot be written."""
        copies = []
        for name in names:
            source, copied = self.path(name), folder / name
            if source.is_file():
                write_private(copied, _read(source))
                copies.append(copied)
        return copies


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise DictateError(f"{path} cannot be read ({error.strerror}).") from error
