"""Findings in a few characters, for drawings and screens."""

from __future__ import annotations

from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds


def value_words(finding: Finding) -> str:
    """Return a finding's value as it is written: "2.5" for a length in mm, "UCF", "" for none."""
    value = finding.value
    return f"{value:g}" if isinstance(value, int | float) else value or ""


def weight(finding: Finding) -> int:
    """Return where its kind stands in the table of findings, the weightiest first."""
    return [*finding_kinds(), finding.kind].index(finding.kind)


def code_of(finding: Finding, graded: bool = True) -> str:
    """Return a finding in short and without its site: "F2", "UCF", "PE"; "F" for one that is
    not to be `graded`; "" for a missing tooth, which is drawn."""
    code, value = finding.row.code, value_words(finding)
    if finding.row.terms and code and not value[:1].isdigit():
        return code
    return code + value if graded or finding.row.terms else code


def code_meaning(finding: Finding, index_scale: int) -> str:
    """Return what its code without a grade stands for, with the grades there are."""
    row, value = finding.row, value_words(finding)
    if row.terms:
        term = row.terms.get(value, value)
        parts = {"resorption": "resorption", "resorption_type": "resorption type"}
        words = f"{parts[finding.kind]}: {term}" if finding.kind in parts else term
        return words[:1].upper() + words[1:]
    if row.value == "grade":
        return f"{row.title}, {row.least} to {row.top(index_scale)}"
    return f"{row.title}, {row.unit}" if row.unit else row.title
