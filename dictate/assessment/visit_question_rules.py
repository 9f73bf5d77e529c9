"""When the questions of questions.toml are asked that treatment, the occlusion and what was seen
awake give rise to: a rule returns what its sentence needs, None where everything fits together."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from dictate.assessment.question_rules import Details, asked_when
from dictate.assessment.summary import index_mean
from dictate.assessment.tooth import Tooth, teeth_in, words_of_number
from dictate.chart.anatomy import is_upper
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.observation import NORMAL, Observation

_OTHER_TREATMENT = frozenset({"restored", "root_planed"})
_MEAN_OF_A_DIRTY_MOUTH = 2
_TEETH_OF_A_MEAN = 6
"""A general grade of 0 is asked about from this mean on, of at least so many teeth: common
practice, no source."""


def _words(findings: list[Finding]) -> str:
    return ", ".join(sorted(each.words() for each in findings))


def _fistula_on_lower_tooth(tooth: Tooth) -> Details | None:
    return asked_when(tooth.has({"oronasal_fistula"}) and not is_upper(tooth.number))


def _palatoversion_of_lower_tooth(tooth: Tooth) -> Details | None:
    return asked_when("PV" in tooth.terms("malposition") and not is_upper(tooth.number))


def _linguoversion_of_upper_tooth(tooth: Tooth) -> Details | None:
    return asked_when("LV" in tooth.terms("malposition") and is_upper(tooth.number))


def _extracted_unexplained(tooth: Tooth) -> Details | None:
    reasons = [
        each
        for each in tooth.findings
        if each.row.section != "treatment" and each.kind not in ("normal", "radiographed")
    ]
    return asked_when(tooth.extracted and not reasons)


def _extracted_and_treated(tooth: Tooth) -> Details | None:
    other = [each for each in tooth.findings if each.kind in _OTHER_TREATMENT]
    return {"findings": _words(other)} if tooth.extracted and other else None


def _extracted_with_root(tooth: Tooth) -> Details | None:
    return asked_when(tooth.extracted and tooth.root_left)


def _extracted_beside_deciduous(tooth: Tooth) -> Details | None:
    both = tooth.extracted and tooth.has({"persistent_deciduous"}) and not tooth.deciduous
    return {"deciduous": str(tooth.number + 400)} if both else None


def _observed(chart: Chart, kind: str) -> list[Observation]:
    return [each for each in chart.observations if each.kind == kind]


def _normal_occlusion(chart: Chart) -> bool:
    return any(each.value == NORMAL for each in _observed(chart, "occlusion"))


def _normal_occlusion_with_crossbite(chart: Chart) -> Details | None:
    crossbites = _observed(chart, "crossbite")
    if not crossbites or not _normal_occlusion(chart):
        return None
    return {"crossbite": ", ".join(sorted(each.words() for each in crossbites))}


def _normal_occlusion_with_bite(chart: Chart) -> Details | None:
    bites = [each for each in _observed(chart, "incisor_bite") if each.value != "scissor"]
    if not bites or not _normal_occlusion(chart):
        return None
    return {"bite": ", ".join(sorted(each.words() for each in bites))}


def _normal_occlusion_with_malposition(chart: Chart) -> Details | None:
    teeth = [str(tooth.number) for tooth in teeth_in(chart) if tooth.has({"malposition"})]
    return {"teeth": ", ".join(teeth)} if teeth and _normal_occlusion(chart) else None


def _crossbite_without_class(chart: Chart) -> Details | None:
    return asked_when(bool(_observed(chart, "crossbite")) and not _observed(chart, "occlusion"))


def _clean_awake_yet(index: str) -> Callable[[Chart], Details | None]:
    def asked(chart: Chart) -> Details | None:
        clean = any(each.value == 0 for each in _observed(chart, f"general_{index}"))
        found = index_mean(chart, index)
        if not clean or found.mean is None or found.n < _TEETH_OF_A_MEAN:
            return None
        dirty = found.mean >= _MEAN_OF_A_DIRTY_MOUTH
        return {"mean": words_of_number(found.mean), "teeth": str(found.n)} if dirty else None

    return asked


VISIT_TOOTH_RULES: Mapping[str, Callable[[Tooth], Details | None]] = {
    "fistula_on_lower_tooth": _fistula_on_lower_tooth,
    "palatoversion_of_lower_tooth": _palatoversion_of_lower_tooth,
    "linguoversion_of_upper_tooth": _linguoversion_of_upper_tooth,
    "extracted_unexplained": _extracted_unexplained,
    "extracted_and_treated": _extracted_and_treated,
    "extracted_with_root": _extracted_with_root,
    "extracted_beside_deciduous": _extracted_beside_deciduous,
}
"""Rules that need one tooth only, by their names in questions.toml."""

VISIT_RULES: Mapping[str, Callable[[Chart], Details | None]] = {
    "normal_occlusion_with_crossbite": _normal_occlusion_with_crossbite,
    "normal_occlusion_with_bite": _normal_occlusion_with_bite,
    "normal_occlusion_with_malposition": _normal_occlusion_with_malposition,
    "crossbite_without_class": _crossbite_without_class,
    "clean_awake_yet_calculus": _clean_awake_yet("calculus"),
    "clean_awake_yet_gingivitis": _clean_awake_yet("gingivitis"),
}
"""Rules about the mouth and no one tooth, by their names in questions.toml."""
