"""What became of an animal's mouth, in words, figures and bars."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import groupby

from dictate.assessment.staging import PeriodontalStage
from dictate.assessment.tooth import words_of_number
from dictate.history.progression import (
    IndexMeans,
    Progression,
    SiteDepths,
    ToothLost,
    trend_of,
)

GAP = "–"
"""What stands for a visit that did not measure."""

MOST_FIGURES = 8
"""How many depths of a site are written at most: the first, then the last ones."""

_BARS = "▁▂▃▄▅▆▇█"
_NOT_PROBED = "·"


def telling(found: Progression, most: int | None = None) -> tuple[tuple[SiteDepths, ...], int]:
    """Return the sites that an earlier visit probed and that changed by more than the error of
    probing or are deeper than normal, in charting order; of more than `most` the gravest ones, and
    how many others there are."""
    sites = [
        site
        for site in found.sites
        if any(depth is not None for depth in site.depths[:-1])
        and (site.changed or site.latest > found.normal_mm)
    ]
    if most is None or len(sites) <= most:
        return tuple(sites), 0
    gravest = sorted(sites, key=lambda site: (-site.deepest_change, -site.latest))[:most]
    return tuple(site for site in sites if site in gravest), len(sites) - most


def site_words(site: SiteDepths) -> str:
    """Return the name of a site; where none was stated, that."""
    return site.place or "site not stated"


def figures(depths: Sequence[float | None]) -> list[str]:
    """Return depths as they are written, in mm, a dash for a visit that did not probe; of many
    visits the first, an ellipsis and the last."""
    words = [GAP if depth is None else words_of_number(depth) for depth in depths]
    if len(words) <= MOST_FIGURES:
        return words
    return [words[0], "…", *words[2 - MOST_FIGURES :]]


def bars(site: SiteDepths) -> str:
    """Return the depths as bars, an eighth of a line for each mm and at most a whole one; a dot
    stands for a visit that did not probe."""
    return "".join(
        _NOT_PROBED if depth is None else _BARS[min(max(round(depth), 1), len(_BARS)) - 1]
        for depth in site.depths
    )


def change_words(site: SiteDepths) -> str:
    """Return what became of a site: "3 mm deeper", or where it differs, since the first probing
    and since the one before the last."""
    if site.since_first is None:
        words = "probed once"
    elif len(site.measured) == 2:
        words = _by(site.since_first)
    else:
        first, last = _by(site.since_first), _by(site.since_last)
        words = first if first == last else f"{first} since the first, {last} since the one before"
    return words if site.measured_now else f"{words}; not probed at the last visit"


def lost_words(lost: ToothLost, days: Sequence[date]) -> str:
    """Return when a tooth was lost, in a sentence without a full stop."""
    if lost.extracted:
        return f"{lost.tooth}: extracted {days[lost.by]}"
    since = "" if lost.after is None else f"present {days[lost.after]}, "
    return f"{lost.tooth}: {since}missing {days[lost.by]}, no extraction is charted"


def index_words(means: IndexMeans) -> list[str]:
    """Return the mean of an index at each visit with the number of teeth, a dash without one."""
    return [
        GAP if each is None or each.mean is None else f"{each.mean:.1f} ({each.n})"
        for each in means.means
    ]


def stage_words(stages: Iterable[PeriodontalStage]) -> str:
    """Return how many teeth are of which stage: "PD1 12, PD2 3 (1 provisional)"."""
    parts = []
    by_stage = sorted(stages, key=lambda each: each.stage)
    for name, group in groupby(by_stage, key=lambda each: each.name):
        of_stage = list(group)
        provisional = sum(each.provisional for each in of_stage)
        parts.append(
            f"{name} {len(of_stage)}{f' ({provisional} provisional)' if provisional else ''}"
        )
    return ", ".join(parts) or "none"


def tooth_stages(found: Progression, tooth: int) -> str:
    """Return the stages of a tooth visit by visit, "?" where provisional: "PD1, –, PD2?"."""
    stages = found.stages_of(tooth)
    names = [
        GAP if each is None else f"{each.name}{'?' if each.provisional else ''}" for each in stages
    ]
    return ", ".join(names if len(names) <= MOST_FIGURES else [names[0], "…", *names[-6:]])


def _by(by_mm: float | None) -> str:
    if by_mm == 0:
        return "as it was"
    trend = trend_of(by_mm)
    if by_mm is None or trend is None or trend == "within error":
        return "within the error of probing"
    return f"{words_of_number(abs(by_mm))} mm {trend}"
