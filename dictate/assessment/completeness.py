"""What has not been examined yet: a chart is not called complete before nothing is left.

Source of what belongs to a tooth's examination: AAHA Dental Care Guidelines 2019, twelve-step
protocol (every tooth charted and probed at several sites). The six sites are common practice.
What belongs to the visit beside the teeth stands in visit_parts.toml.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dictate.assessment.tooth import Tooth, charting_order, number_of, tooth_in
from dictate.assessment.visit_parts import SectionLeft, sections_left
from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES, same_place

PROBED, MOBILITY = "probing depths", "mobility"


@dataclass(frozen=True)
class Required:
    """What the examination of a tooth asks for.

    `sites_required`: places at which a depth must be charted; when empty, one depth anywhere
    will do. `indices`: kinds that must be graded. `mobility`: whether it must be stated.
    """

    sites_required: tuple[str, ...] = SIX_SITES
    indices: tuple[str, ...] = ("calculus", "gingivitis")
    mobility: bool = True


@dataclass(frozen=True)
class ToothLeft:
    """What is left on a tooth that was begun: names of what is lacking, and the sites without a
    depth, by the one name of each."""

    tooth: int
    lacking: tuple[str, ...]
    sites_not_probed: tuple[str, ...]


@dataclass(frozen=True)
class Left:
    """What is left to examine, in charting order.

    `not_examined`: teeth without any finding of the charting itself. `skipped`: those of them that
    were passed over on purpose. `begun`: teeth with findings of which something is lacking.
    `sections`: parts of the visit beside the teeth of which something is left.
    """

    not_examined: tuple[int, ...]
    skipped: tuple[int, ...]
    begun: tuple[ToothLeft, ...]
    sections: tuple[SectionLeft, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether nothing is left, of the teeth or of the other parts of the visit."""
        return not (self.not_examined or self.begun or self.sections)

    def lacking(self, what: str) -> tuple[int, ...]:
        """Return the teeth on which `what` is lacking: "calculus", "mobility" and so on."""
        return tuple(each.tooth for each in self.begun if what in each.lacking)

    @property
    def sentence(self) -> str:
        """What is left, in a sentence short enough to be said aloud: teeth, then other parts."""
        if self.complete:
            return "Nothing is left: every tooth is examined."
        parts = []
        passed_over = f", {_teeth(self.skipped)} skipped" if self.skipped else ""
        if self.not_examined:
            parts.append(f"{_teeth(self.not_examined)} not examined{passed_over}")
        named = dict.fromkeys(what for each in self.begun for what in each.lacking)
        parts += [f"{what} on {_teeth(self.lacking(what))}" for what in named]
        for begun, how in ((False, "not examined"), (True, "not examined in full")):
            titles = [each.title for each in self.sections if each.begun is begun]
            if titles:
                parts.append(f"{_listed(titles)} {how}")
        return f"Left: {'; '.join(parts)}."


def whats_left(
    chart: Chart, teeth: Iterable[int] | None = None, required: Required | None = None
) -> Left:
    """Return what is left to examine: of `teeth` alone, or by default of the whole visit, which is
    the teeth that its dentition asks for, any other that carries findings, and the parts beside
    the teeth.

    A tooth charted missing, unerupted or normal is done: each is a statement for the whole tooth.
    An extracted one is done too. Findings from radiographs and treatment make no tooth examined.
    """
    asked = chart.expected_teeth if teeth is None else tuple(teeth)
    others = chart.charted_teeth if teeth is None else frozenset[int]()
    order = charting_order(chart, {*asked, *others})
    not_examined = tuple(each for each in order if not chart.place_examined(each))
    examined = (tooth for each in order if (tooth := tooth_in(chart, each)).examined)
    begun = (left_on(tooth, required or Required()) for tooth in examined)
    return Left(
        not_examined=not_examined,
        skipped=tuple(each for each in not_examined if _was_skipped(chart, each)),
        begun=tuple(left for left in begun if left.lacking),
        sections=sections_left(chart) if teeth is None else (),
    )


def _was_skipped(chart: Chart, tooth: int) -> bool:
    """Whether a tooth was passed over, or in a mixed dentition the deciduous one at its place."""
    return tooth in chart.skipped or (chart.dentition == "mixed" and tooth + 400 in chart.skipped)


def left_on(tooth: Tooth, required: Required) -> ToothLeft:
    """Return what is left on a tooth, nothing where it is charted missing, normal or extracted."""
    if tooth.crown_absent or tooth.extracted or tooth.has({"normal"}):
        return ToothLeft(tooth.number, (), ())
    depths = [each for each in tooth.of("pocket") if number_of(each) is not None]
    probed = {same_place(each.site) for each in depths}
    sites = tuple(site for site in required.sites_required if same_place(site) not in probed)
    lacking = [] if depths and not sites else [PROBED]
    lacking += [kind for kind in required.indices if not tooth.of(kind)]
    if required.mobility and not tooth.of("mobility"):
        lacking.append(MOBILITY)
    return ToothLeft(tooth.number, tuple(lacking), sites)


def _teeth(teeth: tuple[int, ...]) -> str:
    if len(teeth) <= 3:
        return ", ".join(str(tooth) for tooth in teeth)
    return f"{len(teeth)} teeth (first {teeth[0]}, last {teeth[-1]})"


def _listed(words: list[str]) -> str:
    """Return words as they are said in a list: "head, soft tissue and radiographs"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
