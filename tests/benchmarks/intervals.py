"""How sure a measured figure is: 95 % intervals."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from random import Random
from typing import TypeVar

_Z = 1.959964
_Item = TypeVar("_Item")


def wilson(hits: int, total: int) -> tuple[float, float]:
    """Return the interval of a share, from 0 to 1. Source: Wilson, E. B. (1927), Probable
    inference, J. Amer. Stat. Assoc. 22."""
    if not total:
        return 0.0, 1.0
    share, square = hits / total, _Z**2
    middle = (share + square / (2 * total)) / (1 + square / total)
    half = _Z * math.sqrt(share * (1 - share) / total + square / (4 * total**2))
    half /= 1 + square / total
    return max(0.0, middle - half), min(1.0, middle + half)


def resampled(
    items: Sequence[_Item], figure: Callable[[Sequence[_Item]], float], times: int = 1000
) -> tuple[float, float]:
    """Return the interval of any figure of items, by drawing them again with replacement (Efron's
    bootstrap, percentiles), the same every time."""
    random = Random(1)
    drawn = sorted(figure(random.choices(items, k=len(items))) for _ in range(times))
    return drawn[int(0.025 * times)], drawn[int(0.975 * times) - 1]


def most_per_hour(events: int, hours: float) -> float:
    """Return the upper end of the 95 % interval of a rate: 3 where nothing was seen in an hour (the
    rule of three), else Wilson and Hilferty's approximation of the Poisson limit."""
    if events == 0:
        return 3.0 / hours
    more = events + 1
    return more * (1 - 1 / (9 * more) + _Z / (3 * math.sqrt(more))) ** 3 / hours
