"""The state of a tooth in a few characters, so that it needs no colour to be told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import value_words, weight

SIGNS = {kind: row.code for kind, row in finding_kinds().items()} | {
    "missing": "gone",
    "pocket": "P",
    "normal": "✓",
}
"""What stands before the value of a finding, by kind: as in print, but shorter for a depth."""

State = Literal["untouched", "skipped", "normal", "missing", "found"]

_ALONE: dict[State, tuple[str, ...]] = {"untouched": ("·",), "skipped": ("skip",)}


@dataclass(frozen=True)
class ToothState:
    """What a tooth's place in the mouth shows: a sign for each kind of finding, the gravest
    first; one sign alone where nothing was found."""

    state: State
    signs: tuple[str, ...]


def state_of(chart: Chart, tooth: int) -> ToothState:
    """Return the state of a tooth."""
    findings = gravest_first(chart, chart.on(tooth))
    if not findings:
        state: State = "skipped" if tooth in chart.skipped else "untouched"
        return ToothState(state, _ALONE[state])
    kinds = {finding.kind for finding in findings}
    state = "missing" if "missing" in kinds else "normal" if "normal" in kinds else "found"
    signs: dict[str, str] = {}
    for finding in findings:
        signs.setdefault(finding.kind, sign_of(finding))
    return ToothState(state, tuple(signs.values()))


def sign_of(finding: Finding) -> str:
    """Return a finding in short, without its site: "P6", "F2", "UCF", "gone"."""
    return SIGNS.get(finding.kind, finding.kind) + value_words(finding)


def gravest_first(chart: Chart, findings: Sequence[Finding]) -> list[Finding]:
    """Return findings in order of gravity: values beyond normal before the others, then by kind
    (the order of print), then the highest value (our own order, no source)."""
    return sorted(
        findings,
        key=lambda finding: (not is_of_note(chart, finding), weight(finding), -_size(finding)),
    )


def is_of_note(chart: Chart, finding: Finding) -> bool:
    """Return whether a finding says more than that all is well: a depth beyond the normal
    depth of the species, a grade or a length other than 0, anything without a number."""
    if finding.kind == "pocket":
        return _size(finding) > chart.anatomy.normal_probing_depth_mm.most
    return finding.kind != "normal" and finding.value != 0


def _size(finding: Finding) -> float:
    return float(finding.value) if isinstance(finding.value, int | float) else 0.0


def fit(signs: Sequence[str], width: int, lines: int) -> list[str]:
    """Return signs set into at most so many lines of a width; "…" where there are more."""
    rows: list[str] = []
    for sign in signs:
        short = sign if len(sign) <= width else sign[: width - 1] + "…"
        if rows and len(rows[-1]) + 1 + len(short) <= width:
            rows[-1] += f" {short}"
        elif len(rows) < lines:
            rows.append(short)
        else:
            rows[-1] = rows[-1][: width - 1].rstrip() + "…"
            break
    return rows
