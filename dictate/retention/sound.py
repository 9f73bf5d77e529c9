"""How long the sound of notes is kept."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from dictate.errors import DictateError
from dictate.retention.erase import erase
from dictate.retention.log import log_deletion
from dictate.store.clips import ClipStore


def erase_old_sound(clips: ClipStore, folder: Path, days: int, now: datetime) -> int:
    """Erase sounds that are older than so many days, 0 for none, and return how many; it is written
    into the log in a folder. Raises DictateError where one cannot be erased."""
    if days == 0:
        return 0
    old = [name for name in clips.names() if _is_older(clips.path(name), now - _days(days))]
    for name in old:
        erase(clips.path(name))
    if old:
        words = f"{len(old)} {'sound of a note' if len(old) == 1 else 'sounds of notes'}"
        log_deletion(folder, now, words, f"older than {days} days")
    return len(old)


def _days(days: int) -> timedelta:
    return timedelta(days=days)


def _is_older(path: Path, moment: datetime) -> bool:
    try:
        return path.stat().st_mtime < moment.timestamp()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise DictateError(f"{path} could not be read ({error.strerror}).") from error
