"""When each question of questions.toml is asked: a rule returns what its sentence needs to be
filled with, None where everything fits together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from dictate.assessment.attachment import SiteAttachment, attachment_of
from dictate.assessment.staging import radiographic_percent
from dictate.assessment.tooth import Tooth, tooth_in, words_of_number
from dictate.chart.chart import Chart

Details: TypeAlias = Mapping[str, str]

_ASKED: Details = {}
COMPLICATED = frozenset({"CCF", "CCRF"})
UNCOMPLICATED = frozenset({"EI", "EF", "UCF", "UCRF"})
_OF_GAPS = frozenset({"missing", "persistent_deciduous", "supernumerary"})
_ROOT_FRACTURES = frozenset({"UCRF", "CCRF", "RF"})
_OPENS_PULP = frozenset({"fracture", "resorption", "wear", "caries"})
_ENDODONTIC = _OPENS_PULP | {"pulp_exposure", "discolored", "retained_root", "draining_tract"}


def asked_when(asked: bool) -> Details | None:
    """Return details with nothing to fill in where it is to be asked, None otherwise."""
    return _ASKED if asked else None


def _missing_with_findings(tooth: Tooth) -> Details | None:
    odd = [each for each in tooth.findings if not each.row.may_be_on_missing(tooth.kinds)]
    odd = [each for each in odd if each.row.section == "charting" and each.kind not in _OF_GAPS]
    return _named(odd and tooth.crown_absent, [each.words() for each in odd])


def _normal_with_findings(tooth: Tooth) -> Details | None:
    others = [each for each in tooth.findings if each.kind != "normal"]
    odd = [each.words() for each in others if each.row.section == "charting"]
    return _named(odd and tooth.has({"normal"}), odd)


def _normal_against_radiograph(tooth: Tooth) -> Details | None:
    percent = radiographic_percent(tooth)
    seen = [f"{words_of_number(percent)} % bone loss"] if percent else []
    seen += ["a periapical lucency"] if tooth.has({"periapical_lucency"}) else []
    asked = seen and tooth.has({"normal"}) and not tooth.has({"probed"})
    return {"seen": " and ".join(seen)} if asked else None


def _named(asked: object, findings: list[str]) -> Details | None:
    return {"findings": ", ".join(sorted(findings))} if asked else None


def _furcation_at_normal_depth(tooth: Tooth) -> Details | None:
    through = (tooth.highest("furcation") or 0) >= 3
    return asked_when(through and attachment_of(tooth).no_loss)


def _furcation_without_bone_loss(tooth: Tooth) -> Details | None:
    furcation = tooth.highest("furcation") or 0
    if furcation >= 2 and radiographic_percent(tooth) == 0:
        return {"furcation": words_of_number(furcation)}
    return None


def _mobility_without_loss(tooth: Tooth) -> Details | None:
    mobile = (tooth.highest("mobility") or 0) >= 3
    explained = (
        tooth.deciduous
        or bool(tooth.terms("fracture") & _ROOT_FRACTURES)
        or tooth.has({"resorption", "resorption_type", "periapical_lucency"})
        or bool(radiographic_percent(tooth))
    )
    return asked_when(mobile and not explained and attachment_of(tooth).no_loss)


def _radiograph_against_probing(tooth: Tooth) -> Details | None:
    lost = attachment_of(tooth).worst_lost is not None
    return asked_when(lost and radiographic_percent(tooth) == 0)


def _bone_loss_at_normal_depth(tooth: Tooth) -> Details | None:
    percent = radiographic_percent(tooth) or 0
    if percent >= 25 and attachment_of(tooth).no_loss:
        return {"percent": words_of_number(percent)}
    return None


def _deeper_than_root(tooth: Tooth) -> Details | None:
    length, worst = tooth.highest("root_length"), attachment_of(tooth).worst_lost
    if length and worst and (worst.loss_mm or 0) > length:
        return {"loss": words_of_number(worst.loss_mm or 0), "length": words_of_number(length)}
    return None


def _deep_on_root(tooth: Tooth) -> Details | None:
    length, deepest = tooth.highest("root_length"), attachment_of(tooth).deepest
    if not length or deepest is None or deepest.pocket != "pocket" or deepest.depth_mm is None:
        return None
    if 3 * deepest.depth_mm > 2 * length:
        return {"depth": words_of_number(deepest.depth_mm), "length": words_of_number(length)}
    return None


def _margin_without_site(tooth: Tooth) -> Details | None:
    depths = tooth.of("pocket")
    if not depths or any(each.site is None for each in depths):
        return None
    for kind in ("recession", "enlargement"):
        if any(each.site is None and each.value for each in tooth.of(kind)):
            return {"kind": kind}
    return None


def _recession_with_enlargement(tooth: Tooth) -> Details | None:
    both = (site for site in attachment_of(tooth).sites if site.margin_unclear)
    return next(({"place": site.where()} for site in both), None)


def _enlargement_over_depth(tooth: Tooth) -> Details | None:
    odd = (site for site in attachment_of(tooth).sites if _stands_over_its_depth(site))
    return next(
        (
            {
                "enlargement": words_of_number(site.enlargement_mm or 0),
                "depth": words_of_number(site.depth_mm or 0),
                "place": site.where(),
            }
            for site in odd
        ),
        None,
    )


def _stands_over_its_depth(site: SiteAttachment) -> bool:
    return site.depth_mm is not None and (site.enlargement_mm or 0) > site.depth_mm


def _bleeding_against_index(tooth: Tooth) -> Details | None:
    index = tooth.highest("gingivitis")
    if index is not None and index < 2 and tooth.has({"bleeding"}):
        return {"gingivitis": words_of_number(index)}
    return None


def _retained_root_not_missing(tooth: Tooth) -> Details | None:
    explained = tooth.crown_absent or tooth.extracted or "5" in tooth.terms("resorption")
    return asked_when(tooth.has({"retained_root"}) and not explained)


def _pulp_exposure_unexplained(tooth: Tooth) -> Details | None:
    return asked_when(tooth.has({"pulp_exposure"}) and not tooth.has(_OPENS_PULP))


def _pulp_exposed_uncomplicated(tooth: Tooth) -> Details | None:
    uncomplicated = bool(tooth.terms("fracture") & UNCOMPLICATED)
    other_cause = tooth.has(_OPENS_PULP - {"fracture"})
    complicated = bool(tooth.terms("fracture") & COMPLICATED)
    asked = uncomplicated and not other_cause and not complicated
    return asked_when(tooth.has({"pulp_exposure"}) and asked)


def _complicated_without_radiograph(tooth: Tooth) -> Details | None:
    return asked_when(bool(tooth.terms("fracture") & COMPLICATED) and not tooth.radiographed)


def _fracture_class_open(tooth: Tooth) -> Details | None:
    known = tooth.has({"pulp_exposure"}) or tooth.extracted
    return asked_when("FX" in tooth.terms("fracture") and not known)


def _resorption_type_without_stage(tooth: Tooth) -> Details | None:
    return asked_when(tooth.has({"resorption_type"}) and not tooth.has({"resorption"}))


def _lucency_unexplained(tooth: Tooth) -> Details | None:
    explained = tooth.has(_ENDODONTIC) or tooth.crown_absent or tooth.root_left
    periodontal = attachment_of(tooth).worst_lost is not None or bool(radiographic_percent(tooth))
    return asked_when(tooth.has({"periapical_lucency"}) and not explained and not periodontal)


def _no_such_tooth(chart: Chart, tooth: Tooth) -> Details | None:
    return None if chart.anatomy.has(tooth.number) else {"species": chart.species}


def predecessor(chart: Chart, tooth: Tooth) -> int | None:
    """Return the deciduous tooth at the place of a permanent one, None where the species has
    none there or the tooth is deciduous itself (source: modified Triadan system, Floyd 1991)."""
    number = tooth.number + 400
    if tooth.deciduous or number not in chart.anatomy.deciduous_teeth:
        return None
    return number


def _no_deciduous_before(chart: Chart, tooth: Tooth) -> Details | None:
    named = tooth.has({"persistent_deciduous"}) and not tooth.deciduous
    return asked_when(named and predecessor(chart, tooth) is None)


def _persistent_yet_missing(chart: Chart, tooth: Tooth) -> Details | None:
    before = predecessor(chart, tooth)
    if before is None or not tooth.has({"persistent_deciduous"}):
        return None
    gone = tooth_in(chart, before).has({"missing"})
    return {"deciduous": str(before)} if gone else None


def _deciduous_beside_permanent(chart: Chart, tooth: Tooth) -> Details | None:
    before = predecessor(chart, tooth)
    if before is None or tooth.crown_absent or not tooth.examined:
        return None
    deciduous = tooth_in(chart, before)
    gone = deciduous.crown_absent or deciduous.extracted or tooth.extracted
    there = deciduous.examined and not gone
    named = tooth.has({"persistent_deciduous"}) or deciduous.has({"persistent_deciduous"})
    return {"deciduous": str(before)} if there and not named else None


TOOTH_RULES: Mapping[str, Callable[[Tooth], Details | None]] = {
    "missing_with_findings": _missing_with_findings,
    "normal_with_findings": _normal_with_findings,
    "normal_against_radiograph": _normal_against_radiograph,
    "furcation_at_normal_depth": _furcation_at_normal_depth,
    "furcation_without_bone_loss": _furcation_without_bone_loss,
    "mobility_without_loss": _mobility_without_loss,
    "radiograph_against_probing": _radiograph_against_probing,
    "bone_loss_at_normal_depth": _bone_loss_at_normal_depth,
    "deeper_than_root": _deeper_than_root,
    "deep_on_root": _deep_on_root,
    "margin_without_site": _margin_without_site,
    "recession_with_enlargement": _recession_with_enlargement,
    "enlargement_over_depth": _enlargement_over_depth,
    "bleeding_against_index": _bleeding_against_index,
    "retained_root_not_missing": _retained_root_not_missing,
    "pulp_exposure_unexplained": _pulp_exposure_unexplained,
    "pulp_exposed_uncomplicated": _pulp_exposed_uncomplicated,
    "complicated_without_radiograph": _complicated_without_radiograph,
    "fracture_class_open": _fracture_class_open,
    "resorption_type_without_stage": _resorption_type_without_stage,
    "lucency_unexplained": _lucency_unexplained,
}
"""Rules that need one tooth only, by their names in questions.toml."""

MOUTH_RULES: Mapping[str, Callable[[Chart, Tooth], Details | None]] = {
    "no_such_tooth": _no_such_tooth,
    "no_deciduous_before": _no_deciduous_before,
    "persistent_yet_missing": _persistent_yet_missing,
    "deciduous_beside_permanent": _deciduous_beside_permanent,
}
"""Rules that need the whole chart, by their names in questions.toml."""
