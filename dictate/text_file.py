"""Text files from people and from other programs."""

from __future__ import annotations

from pathlib import Path

from dictate.errors import DictateError


def read_text_file(path: Path, most_bytes: int, too_large: str, instead: str) -> str:
    """Return the text of a file. Raises DictateError when it is none, cannot be read, or has more
    than `most_bytes`, in the words of `too_large`; and when it is not UTF-8, saying what to do
    `instead`."""
    try:
        if path.exists() and not path.is_file():
            raise DictateError(f"{path.name} is not a file: give one to read.")
        if path.stat().st_size > most_bytes:
            raise DictateError(f"{path.name} is {too_large}")
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise DictateError(
            f"{path.name} could not be read ({error.strerror}): check its name and place."
        ) from error
    except UnicodeDecodeError as error:
        raise DictateError(f"{path.name} is not UTF-8 text: {instead}.") from error
