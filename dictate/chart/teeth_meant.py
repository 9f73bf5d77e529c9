"""Which teeth are meant where several are named at once: "201 to 203", "all upper left"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dictate.chart.anatomy import is_deciduous, is_left, is_upper, tooth_kind
from dictate.chart.chart import Chart
from dictate.chart.kinds import ABSENT_KINDS, ROOT_KINDS, finding_kinds
from dictate.chart.rules import Objection, objection_to_tooth

REST = "rest"
"""The group of teeth without a finding of the present part of the visit, but for those that were
passed over on purpose."""


def teeth_meant(
    chart: Chart, named: Mapping[str, Any], section: str | None = None
) -> tuple[int, ...] | Objection:
    """Return the teeth, in charting order, or what speaks against them.

    `named` has `first` and `last` (a range within one jaw), or `group`: words of "upper",
    "lower", "left", "right", "incisors", "canines", "premolars", "molars" joined by "_", "all"
    or "rest". `teeth`, where it is there already, is taken as it is. `section` is that of the
    finding that follows; the rest are the teeth without one of it, of the part at hand where it
    is None.
    """
    if named.get("teeth"):
        return tuple(named["teeth"])
    if named.get("group"):
        return _group(chart, named["group"], section or chart.context)
    return _between(chart, named["first"], named["last"])


def _between(chart: Chart, first: int, last: int) -> tuple[int, ...] | Objection:
    for tooth in (first, last):
        if objection := objection_to_tooth(chart, tooth):
            return objection
    young = is_deciduous(first)
    if is_upper(first) != is_upper(last) or young != is_deciduous(last):
        return Objection(
            "impossible", "range", "A range stays within one jaw and one dentition: say two ranges."
        )
    order = chart.anatomy.deciduous_teeth if young else chart.anatomy.permanent_teeth
    here, there = sorted((order.index(first), order.index(last)))
    return order[here : there + 1]


def _group(chart: Chart, group: str, section: str) -> tuple[int, ...] | Objection:
    words = set(group.split("_"))
    teeth = tuple(tooth for tooth in chart.expected_teeth if _is_in(tooth, words))
    if REST in words:
        teeth = tuple(tooth for tooth in teeth if _is_left(chart, tooth, section))
    if teeth:
        return teeth
    sentence = "No tooth is left." if REST in words else "There is no such tooth in this mouth."
    return Objection("impossible", "range", sentence)


def _is_in(tooth: int, words: set[str]) -> bool:
    apart = {
        "upper": is_upper(tooth),
        "lower": not is_upper(tooth),
        "left": is_left(tooth),
        "right": not is_left(tooth),
        **{f"{kind}s": tooth_kind(tooth) == kind for kind in _KINDS},
    }
    return all(apart.get(word, True) for word in words)


_NO_CROWN = ROOT_KINDS | ABSENT_KINDS
"""Teeth with these are never meant by the rest, on a radiograph or in treatment."""

_KINDS = ("incisor", "canine", "premolar", "molar")


def _is_left(chart: Chart, tooth: int, section: str) -> bool:
    if section in ("radiographs", "treatment"):
        kinds = {each.kind for each in chart.on(tooth)}
        done = any(finding_kinds()[kind].section == section for kind in kinds)
        return not done and kinds.isdisjoint(_NO_CROWN)
    return not chart.place_examined(tooth) and tooth not in chart.skipped
