"""Which teeth a radiographic view covers."""

from __future__ import annotations

from collections.abc import Iterable

from dictate.chart.anatomy import is_left, is_upper
from dictate.chart.observation import Observation

VIEW = "view"
_FULL_MOUTH = "full_mouth"


def views_among(observations: Iterable[Observation]) -> tuple[Observation, ...]:
    """Return the views that were taken."""
    return tuple(each for each in observations if each.kind == VIEW)


def covers(view: Observation, tooth: int) -> bool:
    """Return whether a view covers a tooth, permanent or deciduous: full mouth covers all, a view
    of "upper" or "lower" the jaw, one of "upper_left" and the like the corner. A view without a
    place, other than full mouth, is known to cover none. What a view covers follows from its
    name (common practice, no source)."""
    if view.value == _FULL_MOUTH:
        return True
    stands = {
        "upper": is_upper(tooth),
        "lower": not is_upper(tooth),
        "left": is_left(tooth),
        "right": not is_left(tooth),
    }
    words = (view.place or "").split("_")
    return all(stands.get(word, False) for word in words)
