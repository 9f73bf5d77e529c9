"""The state of a tooth in a few characters, so that it needs no colour to be told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.assessment.gravity import (
    Gravity,
    gravity_of_finding,
    gravity_on,
    rank,
    state_with,
)
from dictate.assessment.gravity import ToothState as State
from dictate.chart.anatomy import other_dentition
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import value_words, weight

SIGNS = {kind: row.code for kind, row in finding_kinds().items()} | {
    "missing": "gone",
    "pocket": "P",
}
"""What stands before the value of a finding, by kind: as in print, but shorter for a depth."""

EXTRACTED = "ext"
"""What stands first on a tooth that was extracted in this visit: "gone" means that there was none
to begin with."""

GLYPHS: dict[State, str] = {
    "untouched": "·", "skipped": "~", "normal": "✓", "minor": "▂", "moderate": "▅", "severe": "█",
    "missing": "×", "extracted": "∪",
}  # fmt: skip
"""What stands before the signs of a tooth, by its state: the graver, the higher the bar."""

STATE_WORDS: dict[State, str] = {
    "untouched": "not charted yet", "skipped": "passed over",
    "normal": "charted, nothing beyond normal", "minor": "minor", "moderate": "moderate",
    "severe": "severe", "missing": "missing", "extracted": "extracted in this visit",
}  # fmt: skip
"""What the glyphs mean."""


@dataclass(frozen=True)
class ToothSigns:
    """What a tooth's place in the mouth shows: the glyph of its state, and a sign for each kind of
    finding, the gravest first. `gravity` is that of all that is charted on it, also on a tooth
    that was not examined yet."""

    state: State
    glyph: str
    signs: tuple[str, ...]
    gravity: Gravity | None = None

    @property
    def ink(self) -> State:
        """The state whose ink it has: a grave radiograph of an untouched tooth shows."""
        graver = self.state in ("untouched", "skipped", "missing") and self.gravity is not None
        return self.gravity if graver and self.gravity else self.state


def signs_of(chart: Chart, tooth: int) -> ToothSigns:
    """Return what a tooth's place in the mouth shows."""
    gravity = gravity_on(chart, tooth)
    state = state_with(chart, tooth, gravity)
    signs, glyph = _signs(chart, tooth), GLYPHS[state]
    if state == "skipped":
        signs = ("skip", *signs)
    elif state == "untouched" and not signs and chart.place_examined(tooth):
        signs, glyph = (str(other_dentition(tooth)),), " "
    return ToothSigns(state, glyph, signs, gravity)


def _signs(chart: Chart, tooth: int) -> tuple[str, ...]:
    """Return a sign for each kind of finding on a tooth; none for one that is just normal."""
    by_kind: dict[str, str] = {}
    for finding in gravest_first(chart, chart.on(tooth)):
        if finding.kind != "normal":
            by_kind.setdefault(finding.kind, sign_of(finding))
    manner = by_kind.pop("extracted", None)
    if manner is None:
        return tuple(by_kind.values())
    how = () if manner == finding_kinds()["extracted"].vague else (manner,)
    return (EXTRACTED, *how, *by_kind.values())


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
    """Return findings in order of gravity: the gravest first, then values beyond normal before the
    others, then by kind (the order of print), then the highest value (our own order, no source)."""
    return sorted(
        findings,
        key=lambda finding: (
            -rank(gravity_of_finding(chart.anatomy, finding)),
            not is_of_note(chart, finding),
            weight(finding),
            -size_of(finding),
        ),
    )


def is_of_note(chart: Chart, finding: Finding) -> bool:
    """Return whether a finding says more than that all is well: a depth beyond the normal
    depth of the species, a grade or a length other than 0, anything without a number. What was
    done to a tooth says less than what is wrong with it, but for its extraction."""
    if finding.kind == "radiographed" or finding.row.section == "treatment":
        return finding.kind == "extracted"
    if finding.kind == "pocket":
        return size_of(finding) > chart.anatomy.normal_probing_depth_mm.most
    return finding.kind != "normal" and finding.value != 0


def size_of(finding: Finding) -> float:
    """Return the number that a finding carries, 0 for one without."""
    return float(finding.value) if isinstance(finding.value, int | float) else 0.0


def fit(signs: Sequence[str], width: int, lines: int) -> list[str]:
    """Return signs set into at most so many lines of a width; "…" where there are more."""
    rows: list[str] = []
    for sign in signs:
        short = sign if len(sign) <= width else _cut(sign, width)
        if rows and len(rows[-1]) + 1 + len(short) <= width:
            rows[-1] += f" {short}"
        elif len(rows) < lines:
            rows.append(short)
        else:
            rows[-1] = _cut(rows[-1], width)
            break
    return rows


def _cut(text: str, width: int) -> str:
    """Return the beginning of a text and "…". A figure is never cut into another one."""
    start, rest = text[: width - 1], text[width - 1 :]
    if rest[:1].isdigit() or rest[:1] == ".":
        start = start.rstrip("0123456789.")
    return start.rstrip() + "…"
