"""What a record holds as FHIR resources: facts of the case, findings, observations and notes."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from dictate.chart.case import Dentition
from dictate.chart.events import Decided, Noted
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.exchange.codes import (
    AGE,
    DETAILS,
    RULES,
    WEIGHT,
    Category,
    Data,
    category,
    coding,
    concept,
    detail,
    kind_coding,
    kind_concept,
    place_concept,
    plain,
    quantity,
    term_coding,
    tooth_concept,
)
from dictate.exchange.visit import Visit, moment

_Item = TypeVar("_Item")

NOTE_TYPE = "text/plain; charset=utf-8"
_CATEGORIES: dict[str, Category] = {"radiographs": "imaging", "treatment": "procedure"}
_NOT_DONE = frozenset({"referred"})
"""Kinds of the treatment that say what shall be done elsewhere, not what was done."""


@dataclass(frozen=True)
class Timed(Generic[_Item]):
    """Something that stands, and when it was charted."""

    what: _Item
    time: datetime


def is_procedure(finding: Finding) -> bool:
    """Return whether a finding is of something that was done, so that it is a Procedure."""
    return finding.row.section == "treatment" and finding.kind not in _NOT_DONE


def case_facts(visit: Visit, stated: Timed[Dentition] | None) -> Iterator[Data]:
    """Yield what the case states of the animal and no Patient can hold; `stated` is the dentition
    where it was stated in the visit."""
    case = visit.case
    opened = case.opened
    if case.weight_kg is not None:
        value = {"valueQuantity": quantity(case.weight_kg, "kg")}
        yield _fact(visit, "weight", opened, concept(WEIGHT), "vital-signs", value)
    if case.age_years is not None:
        years = {**quantity(case.age_years, "a"), "unit": "years"}
        yield _fact(visit, "age", opened, concept(AGE), "survey", {"valueQuantity": years})
    if case.short_nosed is not None:
        yield _detail_fact(visit, "short_nosed", opened, {"valueBoolean": case.short_nosed})
    yield _detail_fact(visit, "index_scale", opened, {"valueInteger": case.index_scale})
    yield _detail_fact(visit, "dentition_expected", opened, _concept_value(case.dentition))
    if stated:
        yield _detail_fact(visit, "dentition", stated.time, _concept_value(stated.what))
    if case.history.strip():
        yield _document(visit, "history", case.history, opened, verified=True)


def finding_resource(visit: Visit, found: Timed[Finding]) -> Data:
    """Return a finding: a Procedure where something was done, an Observation otherwise."""
    finding = found.what
    tooth = tooth_concept(finding.tooth, finding.site)
    about = ("finding", *finding.place)
    if is_procedure(finding):
        return _procedure(visit, about, found.time, kind_concept(finding), tooth)
    return _observation(
        visit,
        about,
        found.time,
        code=concept(kind_coding(finding.row)),
        of=_CATEGORIES.get(finding.row.section, "exam"),
        value=_value(finding),
        bodySite=tooth,
        method=_method(visit, finding.row.most),
        component=[_component("site", _concept_value(finding.site))] if finding.site else None,
    )


def observation_resources(visit: Visit, seen: Timed[Observation]) -> Iterator[Data]:
    """Yield what was observed beside the teeth: an Observation, or for a block the Procedure and
    what was given with it, as it was given."""
    observation = seen.what
    about = ("observation", *observation.identity)
    site = place_concept(observation.place) if observation.place else None
    if observation.row.agents:
        yield _procedure(visit, about, seen.time, kind_concept(observation), site)
        if observation.agent is not None or observation.volume_ml is not None:
            yield _given(visit, about, seen)
        return
    yield _observation(
        visit,
        about,
        seen.time,
        code=concept(kind_coding(observation.row)),
        of=_CATEGORIES.get(observation.row.section, "exam"),
        value=_value(observation),
        bodySite=site,
        method=_method(visit, observation.row.most),
        component=list(_components(observation)) or None,
    )


def note_resources(visit: Visit, number: int, noted: Timed[Noted]) -> Iterator[Data]:
    """Yield a note as a document, and the tooth that it belongs to where there is one."""
    note = noted.what
    site = None
    if note.tooth is not None:
        site = visit.reference("note site", number)
        yield visit.resource(
            "BodyStructure",
            "note site",
            number,
            location=tooth_concept(note.tooth),
            patient=visit.reference("patient"),
        )
    yield _document(visit, "note", note.text, noted.time, note.verified, number, site)


def decision_resource(visit: Visit, decided: Timed[Decided]) -> Data:
    """Return what a clinician decided on a proposal, as a plan that orders nothing by itself."""
    decision = decided.what
    return visit.resource(
        "ServiceRequest",
        "decision",
        decision.tooth,
        decision.rule,
        status="revoked" if decision.decision == "dismissed" else "active",
        intent="plan",
        category=[detail(decision.decision)],
        code=concept(coding(RULES, decision.rule, decision.rule.replace("_", " "))),
        subject=visit.reference("patient"),
        encounter=visit.reference("visit"),
        authoredOn=moment(decided.time),
        requester=visit.performers[0] if visit.performers else None,
        bodySite=[tooth_concept(decision.tooth)],
        note=[{"text": plain(decision.text)}] if decision.text else None,
    )


def _fact(visit: Visit, name: str, time: datetime, code: Data, of: Category, value: Data) -> Data:
    return _observation(visit, ("case", name), time, code=code, of=of, value=value)


def _detail_fact(visit: Visit, name: str, time: datetime, value: Data) -> Data:
    return _fact(visit, name, time, detail(name), "survey", value)


def _observation(
    visit: Visit,
    about: tuple[object, ...],
    time: datetime,
    *,
    code: Data,
    of: Category,
    value: Data,
    **more: object,
) -> Data:
    return visit.resource(
        "Observation",
        *about,
        status=visit.status,
        category=[category(of)],
        code=code,
        subject=visit.reference("patient"),
        encounter=visit.reference("visit"),
        effectiveDateTime=moment(time),
        performer=visit.performers,
        **value,
        **more,
    )


def _procedure(
    visit: Visit, about: tuple[object, ...], time: datetime, code: Data, site: Data | None
) -> Data:
    people = visit.performers
    return visit.resource(
        "Procedure",
        *about,
        status="completed",
        code=code,
        subject=visit.reference("patient"),
        encounter=visit.reference("visit"),
        performedDateTime=moment(time),
        performer=[{"actor": person} for person in people] if people else None,
        bodySite=[site] if site else None,
        report=[visit.reference("report")],
    )


def _given(visit: Visit, about: tuple[object, ...], seen: Timed[Observation]) -> Data:
    agent, volume = seen.what.agent, seen.what.volume_ml
    people = visit.performers
    return visit.resource(
        "MedicationAdministration",
        "given",
        *about,
        partOf=[visit.reference(*about)],
        status="completed",
        medicationCodeableConcept=detail("agent_not_stated")
        if agent is None
        else {"text": plain(agent)},
        subject=visit.reference("patient"),
        context=visit.reference("visit"),
        effectiveDateTime=moment(seen.time),
        performer=[{"actor": person} for person in people] if people else None,
        dosage=None if volume is None else {"dose": quantity(volume, "mL")},
    )


def _document(
    visit: Visit,
    kind: str,
    text: str,
    time: datetime,
    verified: bool,
    number: int = 0,
    site: Data | None = None,
) -> Data:
    attachment: Data = {"contentType": NOTE_TYPE}
    if text:
        attachment["data"] = b64encode(plain(text).encode()).decode()
    related = [visit.reference("report"), *([site] if site else [])]
    return visit.resource(
        "DocumentReference",
        kind,
        number,
        status="current",
        docStatus="final" if verified else "preliminary",
        type=detail(kind),
        subject=visit.reference("patient"),
        date=moment(time),
        author=visit.performers,
        content=[{"attachment": attachment}],
        context={"encounter": [visit.reference("visit")], "related": related},
    )


def _value(of: Finding | Observation) -> Data:
    match of.row.value:
        case "none":
            return {"valueBoolean": True}
        case "grade":
            return {"valueInteger": of.value}
        case "term":
            return {"valueCodeableConcept": concept(term_coding(of))}
        case "length" | "percent":
            unit = "mm" if of.row.value == "length" else "%"
            return {"valueQuantity": quantity(float(str(of.value)), unit)}


def _components(observation: Observation) -> Iterator[Data]:
    for number, length in enumerate(observation.size_mm, start=1):
        yield _component(f"size_{number}", {"valueQuantity": quantity(length, "mm")})
    for name in ("colour", "surface"):
        word = getattr(observation, name)
        if word is not None:
            yield _component(name, _concept_value(word))
    if observation.tooth is not None:
        yield _component("tooth", {"valueCodeableConcept": tooth_concept(observation.tooth)})
    if observation.covered:
        yield _component("covered", {"valueBoolean": True})


def _component(code: str, value: Data) -> Data:
    return {"code": detail(code), **value}


def _concept_value(word: str) -> Data:
    return {"valueCodeableConcept": concept(coding(DETAILS, word, word))}


def _method(visit: Visit, most: object) -> Data | None:
    """Return the scale of an index, None for what is no index."""
    return detail(f"index_0_{visit.case.index_scale}") if most == "scale" else None
