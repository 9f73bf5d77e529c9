"""The resources of a bundle of ours as the case and what stands in it: the way back.

A part that is missing or has another form raises one of `DAMAGED`. What is read here is built
again and compared with the whole bundle (reading.py), so nothing is checked twice.
"""

from __future__ import annotations

from base64 import b64decode
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from dictate.chart.case import Case, Dentition, entered_case
from dictate.chart.events import Closed, Decided, Noted, Reopened
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation, observation_kinds
from dictate.exchange.codes import (
    AGE,
    CASES,
    DETAILS,
    FINDINGS,
    LOINC,
    OBSERVATIONS,
    PLACES,
    RULES,
    SNOMED,
    SPECIES_CODES,
    TEETH,
    TERMS,
    WEIGHT,
    Data,
)
from dictate.exchange.resources import Timed
from dictate.exchange.visit import ANIMAL

DAMAGED = (
    KeyError,
    IndexError,
    TypeError,
    ValueError,
    AttributeError,
    StopIteration,
    ArithmeticError,
)
"""What is raised where a part is missing or has another form."""


@dataclass(frozen=True)
class Parsed:
    """A case and what stands in it, each in the order of the bundle. `closings` are in order of
    time; their seals are left out, since they are over another chain of events."""

    case: Case
    dentition: Timed[Dentition] | None
    findings: list[Timed[Finding]]
    observations: list[Timed[Observation]]
    notes: list[Timed[Noted]]
    decisions: list[Timed[Decided]]
    closings: list[Timed[Closed | Reopened]]


def parse(resources: dict[str, Data]) -> Parsed:
    """Return what resources hold, which are given by their full URLs. Raises DictateError for a
    case that cannot be, and one of `DAMAGED`."""
    return _Parser(resources).parsed()


class _Parser:
    def __init__(self, resources: dict[str, Data]) -> None:
        self._resources = resources
        self._given = {
            each["partOf"][0]["reference"]: each for each in self._of("MedicationAdministration")
        }

    def parsed(self) -> Parsed:
        facts = {
            code: each
            for each in self._of("Observation")
            for system in (DETAILS, LOINC)
            for code in _codes(each["code"], system)
        }
        findings, observations = [], []
        for url, each in self._resources.items():
            time = each.get("effectiveDateTime") or each.get("performedDateTime")
            if _codes(each.get("code"), FINDINGS):
                findings.append(Timed(_finding(each), _moment(time)))
            elif _codes(each.get("code"), OBSERVATIONS):
                observations.append(Timed(self._observation(url, each), _moment(time)))
        stated = facts.get("dentition")
        return Parsed(
            case=self._case(facts),
            dentition=Timed(_dentition(stated), _moment(stated["effectiveDateTime"]))
            if stated
            else None,
            findings=findings,
            observations=observations,
            notes=[self._note(each) for each in self._documents("note")],
            decisions=[_decided(each) for each in self._of("ServiceRequest")],
            closings=[self._closing(each) for each in self._of("Provenance")],
        )

    def _of(self, kind: str) -> list[Data]:
        return [each for each in self._resources.values() if each["resourceType"] == kind]

    def _documents(self, kind: str) -> list[Data]:
        return [each for each in self._of("DocumentReference") if _code(each["type"]) == kind]

    def _case(self, facts: dict[str, Data]) -> Case:
        (patient,), (encounter,) = self._of("Patient"), self._of("Encounter")
        (identifier,) = (each for each in encounter["identifier"] if each["system"] == CASES)
        values: dict[str, Any] = {
            "id": identifier["value"],
            "opened": _moment(encounter["period"]["start"]),
            "index_scale": facts["index_scale"]["valueInteger"],
            "dentition": _dentition(facts["dentition_expected"]),
            "sex": patient["gender"],
            **self._animal(patient),
            **self._people(encounter),
        }
        if "reasonCode" in encounter:
            values["reason"] = encounter["reasonCode"][0]["text"]
        if "short_nosed" in facts:
            values["short_nosed"] = facts["short_nosed"]["valueBoolean"]
        for field, coded in (("weight_kg", WEIGHT), ("age_years", AGE)):
            if coded["code"] in facts:
                values[field] = float(facts[coded["code"]]["valueQuantity"]["value"])
        for owner in self._of("RelatedPerson"):
            values["owner_reference"] = owner["identifier"][0]["value"]
        for history in self._documents("history"):
            values["history"] = _text(history)
        return entered_case(values)

    def _animal(self, patient: Data) -> dict[str, Any]:
        (extension,) = (each for each in patient["extension"] if each["url"] == ANIMAL)
        parts = {each["url"]: each["valueCodeableConcept"] for each in extension["extension"]}
        species = {code: name for name, (code, _) in SPECIES_CODES.items()}
        values: dict[str, Any] = {"species": species[_code(parts["species"], SNOMED)]}
        if "name" in patient:
            values["animal"] = patient["name"][0]["text"]
        if "birthDate" in patient:
            values["birth_date"] = date.fromisoformat(patient["birthDate"])
        if "breed" in parts:
            values["breed"] = parts["breed"]["text"]
        if "genderStatus" in parts:
            values["neutered"] = parts["genderStatus"]["coding"][0]["code"] == "neutered"
        return values

    def _people(self, encounter: Data) -> dict[str, str]:
        roles = {"PPRF": "clinician", "SPRF": "assistant"}
        return {
            roles[each["type"][0]["coding"][0]["code"]]: self._named(each["individual"])
            for each in encounter.get("participant", ())
        }

    def _named(self, reference: Data) -> str:
        """Return the name of a person who is referred to, "" where none is stated."""
        if "reference" not in reference:
            return ""
        name: str = self._resources[reference["reference"]]["name"][0]["text"]
        return name

    def _observation(self, url: str, resource: Data) -> Observation:
        kind = _code(resource["code"], OBSERVATIONS)
        parts = {_code(each["code"]): each for each in resource.get("component", ())}
        sizes = [parts[code] for code in ("size_1", "size_2") if code in parts]
        words = {
            name: _code(_concept(parts[name])) for name in ("colour", "surface") if name in parts
        }
        site = resource.get("bodySite")
        given = self._given.get(url, {})
        dose = given.get("dosage", {}).get("dose")
        return Observation(
            kind=kind,
            value=_value(resource, kind, observation_kinds()[kind].value),
            place=_code(site[0] if isinstance(site, list) else site, PLACES) if site else None,
            tooth=int(_code(_concept(parts["tooth"]), TEETH)) if "tooth" in parts else None,
            size_mm=tuple(float(each["valueQuantity"]["value"]) for each in sizes),
            agent=_agent(given),
            volume_ml=None if dose is None else float(dose["value"]),
            covered="covered" in parts,
            **words,
        )

    def _note(self, document: Data) -> Timed[Noted]:
        related = [self._resources[each["reference"]] for each in document["context"]["related"]]
        teeth = [each["location"] for each in related if each["resourceType"] == "BodyStructure"]
        note = Noted(
            text=_text(document),
            tooth=int(_code(teeth[0], TEETH)) if teeth else None,
            verified=document["docStatus"] == "final",
        )
        return Timed(note, _moment(document["date"]))

    def _closing(self, provenance: Data) -> Timed[Closed | Reopened]:
        closed = _code(provenance["activity"]) == "closed"
        by = self._named(provenance["agent"][0]["who"])
        return Timed(Closed(by=by) if closed else Reopened(), _moment(provenance["recorded"]))


def _finding(resource: Data) -> Finding:
    kind = _code(resource["code"], FINDINGS)
    row = finding_kinds()[kind]
    site = resource["bodySite"]
    sites = [_code(_concept(each)) for each in resource.get("component", ())]
    return Finding(
        tooth=int(_code(site[0] if isinstance(site, list) else site, TEETH)),
        kind=kind,
        value=_value(resource, kind, row.value),
        unit=row.unit,
        site=sites[0] if sites else None,
    )


def _decided(resource: Data) -> Timed[Decided]:
    decision: Any = _code(resource["category"][0])
    notes = resource.get("note", ())
    decided = Decided(
        tooth=int(_code(resource["bodySite"][0], TEETH)),
        rule=_code(resource["code"], RULES),
        decision=decision,
        text=notes[0]["text"] if notes else "",
    )
    return Timed(decided, _moment(resource["authoredOn"]))


def _value(resource: Data, kind: str, takes: str) -> Any:
    """Return the value that a resource states for a kind that takes a grade, a term and so on."""
    match takes:
        case "grade":
            return int(resource["valueInteger"])
        case "length" | "percent":
            return float(resource["valueQuantity"]["value"])
        case "term":
            coded = resource["code"] if "status" in resource else {}
            coded = resource.get("valueCodeableConcept", coded)
            return next((code.removeprefix(f"{kind}.") for code in _codes(coded, TERMS)), None)
        case _:
            return None


def _agent(given: Data) -> str | None:
    medicine = given.get("medicationCodeableConcept", {})
    return None if _codes(medicine, DETAILS) else medicine.get("text")


def _text(document: Data) -> str:
    data = document["content"][0]["attachment"].get("data", "")
    return b64decode(data, validate=True).decode()


def _dentition(fact: Data) -> Any:
    return _code(_concept(fact))


def _concept(holder: Data) -> Data:
    value: Data = holder["valueCodeableConcept"]
    return value


def _codes(concept: Data | None, system: str) -> list[str]:
    codings = (concept or {}).get("coding", ())
    return [each["code"] for each in codings if each.get("system") == system]


def _code(concept: Data, system: str = DETAILS) -> str:
    return _codes(concept, system)[0]


def _moment(text: str | None) -> datetime:
    time = datetime.fromisoformat(text or "")
    if time.tzinfo is None:
        raise ValueError("a time without a zone")
    return time
