"""What a microphone is worth, roughly, told from the levels of its blocks while somebody speaks.

`calibration` measures it well, from a quiet room and one phrase; this follows what comes in.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from dictate.speech.calibration import GOOD_SNR_DB, SOFT_DBFS, USABLE_SNR_DB
from dictate.speech.level import SILENCE_DBFS, Levels

Finding: TypeAlias = Literal[
    "waiting", "silent", "speak", "clipping", "soft", "noisy", "usable", "good"
]

_WINDOW_S = 6.0
_BLOCK_S = 0.03
_FEWEST_S = 1.0
_FLOOR_PERCENTILE = 10.0
_SPEECH_OVER_FLOOR_DB = 12.0
_SHORTEST_SPEECH_S = 0.3
_ACTIVE_DB = 20.0
_CLIPPED_S = 3.0

SENTENCES: dict[Finding, str] = {
    "waiting": "Wait: the microphone is being opened.",
    "silent": "Nothing comes from this microphone: look for its mute switch and its plug.",
    "speak": "Now speak as you do while charting.",
    "clipping": "TOO LOUD: turn the input level down in the system's sound settings.",
    "soft": "TOO SOFT: move the microphone closer, or turn its input level up.",
    "noisy": "TOO MUCH NOISE: move the microphone closer to the mouth, away from what makes noise.",
    "usable": "USABLE: closer to the mouth, or with less noise, words are heard more surely.",
    "good": "GOOD: the voice is clear of the room. “dictate calibrate” measures it exactly.",
}
"""What is found, and what to do about it, in words."""


@dataclass(frozen=True)
class Watched:
    """What the last seconds come to: the steady noise and the voice in dBFS, None where there is
    none yet."""

    finding: Finding
    floor_dbfs: float | None = None
    voice_dbfs: float | None = None


class LevelWatch:
    """Follows the levels of one microphone, in blocks of about 0.03 s."""

    def __init__(self) -> None:
        self._levels: deque[float] = deque(maxlen=round(_WINDOW_S / _BLOCK_S))
        self._since_clipped: int | None = None
        self._last: Watched | None = None

    def take(self, dbfs: float, clipping: bool) -> None:
        """Take the level of the next block, and whether it was clipped."""
        self._levels.append(dbfs)
        if clipping:
            self._since_clipped = 0
        elif self._since_clipped is not None:
            self._since_clipped += 1

    def found(self) -> Watched:
        """Return what is found now; once somebody has spoken, what was found of that stays until
        somebody speaks again."""
        if len(self._levels) < _FEWEST_S / _BLOCK_S:
            return Watched("waiting")
        levels = np.array(self._levels)
        if levels.max() <= SILENCE_DBFS:
            return Watched("silent")
        floor = float(np.percentile(levels, _FLOOR_PERCENTILE))
        if self._has_clipped:
            return Watched("clipping", floor, float(levels.max()))
        voice = _voice_dbfs(levels, floor)
        if voice is None:
            return self._last or Watched("speak", floor)
        self._last = Watched(_judged(floor, voice), floor, voice)
        return self._last

    @property
    def _has_clipped(self) -> bool:
        since = self._since_clipped
        return since is not None and since < _CLIPPED_S / _BLOCK_S


def _voice_dbfs(levels: Levels, floor: float) -> float | None:
    """Return the level of the voice in blocks, shape (n,): of those within 20 dB of the loudest
    that stand out of the floor; None where too few do."""
    loudest = levels.max()
    active = levels[(levels >= loudest - _ACTIVE_DB) & (levels >= floor + _SPEECH_OVER_FLOOR_DB)]
    if len(active) < _SHORTEST_SPEECH_S / _BLOCK_S:
        return None
    return float(10.0 * np.log10(np.mean(10.0 ** (active / 10.0))))


def _judged(floor: float, voice: float) -> Finding:
    if voice < SOFT_DBFS:
        return "soft"
    if voice - floor < USABLE_SNR_DB:
        return "noisy"
    return "usable" if voice - floor < GOOD_SNR_DB else "good"
