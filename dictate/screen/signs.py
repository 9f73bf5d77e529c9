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

State = Literal["untouched", "skipped", "normal", "missing", "extracted", "found"]

EXTRACTED = "ext"
"""What stands first on a tooth that was extracted in this visit: "gone" means that there was none
to begin with."""

NOTHING_YET = "·"
"""What stands on a tooth that was not charted yet, and before the first sign of one of which
only a radiograph or a treatment is known."""

_ALONE: dict[State, tuple[str, ...]] = {"untouched": (NOTHING_YET,), "skipped": ("skip",)}


@dataclass(frozen=True)
class ToothState:
    """What a tooth's place in the mouth shows: a sign for each kind of finding, the gravest
    first; one sign alone where nothing was found."""

    state: State
    signs: tuple[str, ...]


def state_of(chart: Chart, tooth: int) -> ToothState:
    """Return the state of a tooth."""
    findings = gravest_first(chart, chart.on(tooth))
    by_kind: dict[str, str] = {}
    for finding in findings:
        by_kind.setdefault(finding.kind, sign_of(finding))
    signs = tuple(by_kind.values())
    if "extracted" in by_kind:
        manner = by_kind.pop("extracted")
        how = () if manner == finding_kinds()["extracted"].vague else (manner,)
        return ToothState("extracted", (EXTRACTED, *how, *by_kind.values()))
    if not chart.place_examined(tooth):
        state: State = "skipped" if tooth in chart.skipped else "untouched"
        return ToothState(state, _beside(_ALONE[state], signs))
    if not signs:
        return ToothState("untouched", (str(tooth + 400),))
    state = "missing" if "missing" in by_kind else "normal" if "normal" in by_kind else "found"
    return ToothState(state, signs)


def _beside(alone: tuple[str, ...], signs: tuple[str, ...]) -> tuple[str, ...]:
    """Return the sign of a tooth that was not charted before what else is known of it."""
    if not signs:
        return alone
    if alone == (NOTHING_YET,):
        return (NOTHING_YET + signs[0], *signs[1:])
    return (*alone, *signs)


def counted(chart: Chart) -> tuple[int, int, int]:
    """Return how many of the expected teeth are examined, how many there are, and how many teeth
    were passed over and not examined since."""
    examined = sum(chart.place_examined(tooth) for tooth in chart.expected_teeth)
    skipped = sum(not chart.place_examined(tooth) for tooth in chart.skipped)
    return examined, len(chart.expected_teeth), skipped


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
    depth of the species, a grade or a length other than 0, anything without a number. What was
    done to a tooth says less than what is wrong with it, but for its extraction."""
    if finding.kind == "radiographed" or finding.row.section == "treatment":
        return finding.kind == "extracted"
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
