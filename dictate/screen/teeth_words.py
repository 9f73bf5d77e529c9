"""Teeth and their findings in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dictate.chart.anatomy import Anatomy, quadrant
from dictate.chart.finding import Finding
from dictate.chart.short import value_words


def teeth_words(teeth: Iterable[int], anatomy: Anatomy) -> str:
    """Return teeth by number, three or more that stand side by side in a quadrant
    as "201–203"."""
    order = (*anatomy.permanent_teeth, *anatomy.deciduous_teeth)
    wanted = set(teeth)
    runs: list[list[int]] = []
    before: int | None = None
    for tooth in order:
        if tooth in wanted:
            beside = bool(runs) and before == runs[-1][-1] and quadrant(before) == quadrant(tooth)
            if beside:
                runs[-1].append(tooth)
            else:
                runs.append([tooth])
        before = tooth
    words = [f"{run[0]}–{run[-1]}" if len(run) > 2 else _listed(run) for run in runs]
    strange = sorted(wanted.difference(order))
    return ", ".join([*words, *([_listed(strange)] if strange else [])])


def _listed(teeth: Sequence[int]) -> str:
    return ", ".join(str(tooth) for tooth in teeth)


def finding_words(findings: Sequence[Finding]) -> list[str]:
    """Return findings of one tooth in words, three depths along a side as one: "pocket 3 2 6 mm
    buccal", from mesial to distal."""
    depths = {each.site: each for each in findings if each.kind == "pocket" and each.site}
    words: dict[tuple[str, str | None], str] = {}
    for finding in findings:
        side = (finding.site or "").removeprefix("mesio").removeprefix("disto")
        run = [depths.get(f"{end}{side}") for end in ("mesio", "", "disto")]
        if finding.kind == "pocket" and side and all(run):
            values = " ".join(value_words(each) for each in run if each)
            words.setdefault(("run", side), f"pocket {values} mm {side}")
        else:
            words[finding.kind, finding.site] = finding.words()
    return list(words.values())
