"""When each proposal of proposals.toml is made: named conditions on one tooth. A condition is
given the tooth and the pocket depth in mm that its row names (0 where it names none). Treatment
does not matter here: what answers a proposal stands in its row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from dictate.assessment.attachment import attachment_of
from dictate.assessment.question_rules import COMPLICATED
from dictate.assessment.staging import radiographic_percent, stage_of_tooth
from dictate.assessment.tooth import Tooth
from dictate.chart.anatomy import is_upper

Condition: TypeAlias = Callable[[Tooth, float], bool]

_NEEDS_RADIOGRAPH = frozenset(
    {"fracture", "resorption", "caries", "discolored", "pulp_exposure", "draining_tract"}
    | {"furcation", "retained_root", "unerupted", "persistent_deciduous", "supernumerary"}
    | {"wear", "enamel_defect", "enamel_hypoplasia"}
)
_INFECTED = frozenset({"periapical_lucency", "draining_tract"})
_DEPOSITS = ("calculus", "plaque", "gingivitis")


def _stage(tooth: Tooth) -> int:
    stage = stage_of_tooth(tooth)
    return stage.stage if stage else 0


def _deepest_pocket_mm(tooth: Tooth) -> float:
    depths = (each.depth_mm for each in attachment_of(tooth).sites if each.pocket == "pocket")
    return max((depth for depth in depths if depth is not None), default=0)


def _present(tooth: Tooth) -> bool:
    return not tooth.crown_absent and "5" not in tooth.terms("resorption")


def _mobility(tooth: Tooth) -> float:
    return tooth.highest("mobility") or 0


def _missing_unexplained(tooth: Tooth, _: float) -> bool:
    return tooth.has({"missing"}) and not tooth.has({"unerupted", "retained_root"})


def _lesion(tooth: Tooth, _: float) -> bool:
    return tooth.has(_NEEDS_RADIOGRAPH) or _stage(tooth) >= 2 or _mobility(tooth) >= 1


def _unerupted(tooth: Tooth, _: float) -> bool:
    return tooth.has({"unerupted"})


def _diseased_root_left(tooth: Tooth, _: float) -> bool:
    return tooth.root_left and tooth.has(_INFECTED)


def _quiet_root_left(tooth: Tooth, _: float) -> bool:
    return tooth.root_left and not tooth.has(_INFECTED)


def _exposed_pulp(tooth: Tooth, _: float) -> bool:
    resorbed = tooth.has({"resorption", "resorption_type"})
    return _complicated(tooth) or (tooth.has({"pulp_exposure"}) and not resorbed)


def _complicated(tooth: Tooth) -> bool:
    return not tooth.terms("fracture").isdisjoint(COMPLICATED)


def _endodontic_signs(tooth: Tooth, _: float) -> bool:
    signs = tooth.has({"discolored", *_INFECTED}) and _present(tooth) and not tooth.root_left
    return signs and not _exposed_pulp(tooth, 0) and not tooth.has({"resorption"})


def _deciduous_endodontic(tooth: Tooth, _: float) -> bool:
    exposed = _complicated(tooth) or tooth.has({"pulp_exposure"})
    signs = tooth.has({"discolored", *_INFECTED}) and _present(tooth) and not tooth.root_left
    return exposed or signs


def _fractured(*terms: str) -> Condition:
    def holds(tooth: Tooth, _: float) -> bool:
        return not tooth.terms("fracture").isdisjoint(terms)

    return holds


def _uncomplicated_fracture(tooth: Tooth, _: float) -> bool:
    return _fractured("UCF", "UCRF", "EF")(tooth, 0) and not tooth.has({"pulp_exposure"})


def _resorption_without_type(tooth: Tooth, _: float) -> bool:
    resorbed = tooth.has({"resorption"}) and _present(tooth)
    return resorbed and not tooth.has({"resorption_type"})


def _resorption_type(kind: str) -> Condition:
    def holds(tooth: Tooth, _: float) -> bool:
        return kind in tooth.terms("resorption_type") and _present(tooth)

    return holds


def _root_diseased(tooth: Tooth) -> bool:
    return tooth.has(_INFECTED | {"discolored"}) or _complicated(tooth) or _stage(tooth) >= 2


def _resorption_type_2(tooth: Tooth, _: float) -> bool:
    return _resorption_type("2")(tooth, 0) and not (_root_diseased(tooth) or tooth.stomatitis)


def _resorption_type_2_stomatitis(tooth: Tooth, _: float) -> bool:
    ruled_out = tooth.stomatitis and not _root_diseased(tooth)
    return _resorption_type("2")(tooth, 0) and ruled_out


def _resorption_type_2_diseased(tooth: Tooth, _: float) -> bool:
    return _resorption_type("2")(tooth, 0) and _root_diseased(tooth)


def _resorption_remnants(tooth: Tooth, _: float) -> bool:
    return "5" in tooth.terms("resorption") and not tooth.has(_INFECTED)


def _resorption_remnants_diseased(tooth: Tooth, _: float) -> bool:
    remnants = "5" in tooth.terms("resorption") and not tooth.root_left
    return remnants and tooth.has(_INFECTED)


def _hopeless_periodontium(tooth: Tooth, _: float) -> bool:
    return _stage(tooth) == 4 or (_mobility(tooth) >= 3 and _stage(tooth) >= 2)


def _mobile(tooth: Tooth, _: float) -> bool:
    return _mobility(tooth) >= 1 and not tooth.crown_absent


def _mobile_without_stage(tooth: Tooth, _: float) -> bool:
    mobile = _mobility(tooth) >= 3 and not tooth.deciduous and not tooth.crown_absent
    return mobile and _stage(tooth) < 2


def _needs_open_planing(tooth: Tooth, depth_mm: float) -> bool:
    deep = _deepest_pocket_mm(tooth) > depth_mm or (tooth.highest("furcation") or 0) >= 2
    return deep and _present(tooth) and not _hopeless_periodontium(tooth, 0)


def _needs_closed_planing(tooth: Tooth, depth_mm: float) -> bool:
    shallow = 0 < _deepest_pocket_mm(tooth) <= depth_mm and _present(tooth)
    graver = _needs_open_planing(tooth, depth_mm) or _hopeless_periodontium(tooth, 0)
    return shallow and not graver


def _normal_with_bone_loss(tooth: Tooth, _: float) -> bool:
    unprobed = _deepest_pocket_mm(tooth) == 0 and (tooth.highest("furcation") or 0) < 2
    lost = bool(radiographic_percent(tooth)) and not _hopeless_periodontium(tooth, 0)
    return tooth.has({"normal"}) and unprobed and lost


def _pseudopocket(tooth: Tooth, _: float) -> bool:
    return bool(attachment_of(tooth).pseudopockets) and _present(tooth)


def _deposits_or_gingivitis(tooth: Tooth, _: float) -> bool:
    graded = any(tooth.highest(kind) for kind in _DEPOSITS)
    return (graded or tooth.has({"bleeding"})) and not tooth.crown_absent


def _enamel_defect(tooth: Tooth, _: float) -> bool:
    return tooth.has({"enamel_defect", "enamel_hypoplasia"})


def _carries(kind: str) -> Condition:
    def holds(tooth: Tooth, _: float) -> bool:
        return tooth.has({kind})

    return holds


def _upper_fistula(tooth: Tooth, _: float) -> bool:
    return tooth.has({"oronasal_fistula"}) and is_upper(tooth.number)


def _wear_without_pulp(tooth: Tooth, _: float) -> bool:
    return tooth.has({"wear"}) and not tooth.has({"pulp_exposure"})


def _crowding_supernumerary(tooth: Tooth, _: float) -> bool:
    return {"supernumerary", "crowding"} <= tooth.kinds


CONDITIONS: Mapping[str, Condition] = {
    "missing_unexplained": _missing_unexplained,
    "lesion": _lesion,
    "unerupted": _unerupted,
    "diseased_root_left": _diseased_root_left,
    "quiet_root_left": _quiet_root_left,
    "exposed_pulp": _exposed_pulp,
    "endodontic_signs": _endodontic_signs,
    "deciduous_endodontic": _deciduous_endodontic,
    "root_fracture": _fractured("RF"),
    "uncomplicated_fracture": _uncomplicated_fracture,
    "enamel_infraction": _fractured("EI"),
    "fracture_without_class": _fractured("FX"),
    "resorption_without_type": _resorption_without_type,
    "resorption_type_1": _resorption_type("1"),
    "resorption_type_2": _resorption_type_2,
    "resorption_type_2_diseased": _resorption_type_2_diseased,
    "resorption_type_2_stomatitis": _resorption_type_2_stomatitis,
    "resorption_type_3": _resorption_type("3"),
    "resorption_remnants": _resorption_remnants,
    "resorption_remnants_diseased": _resorption_remnants_diseased,
    "hopeless_periodontium": _hopeless_periodontium,
    "mobile": _mobile,
    "mobile_without_stage": _mobile_without_stage,
    "needs_open_planing": _needs_open_planing,
    "needs_closed_planing": _needs_closed_planing,
    "normal_with_bone_loss": _normal_with_bone_loss,
    "pseudopocket": _pseudopocket,
    "deposits_or_gingivitis": _deposits_or_gingivitis,
    "caries": _carries("caries"),
    "enamel_defect": _enamel_defect,
    "wear_without_pulp": _wear_without_pulp,
    "upper_fistula": _upper_fistula,
    "persistent_deciduous": _carries("persistent_deciduous"),
    "crowding_supernumerary": _crowding_supernumerary,
}
"""The conditions by their names in proposals.toml."""
