"""The frame that every resource of a bundle refers to: the animal, the people and the visit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from uuid import uuid5

from dictate.chart.case import Case
from dictate.exchange.codes import (
    ACT,
    CASES,
    GENDER_STATUS,
    NAMESPACE,
    OWNERS,
    PARTICIPATION,
    SNOMED,
    SPECIES_CODES,
    Data,
    coding,
    concept,
    detail,
    plain,
)

ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"
"""The standard extension of an animal: species, breed, genderStatus. Source: FHIR R4B,
hl7.org/fhir/R4B/extension-patient-animal.html."""

Status = Literal["preliminary", "final", "amended"]

_SPOKEN_ROLES = (("clinician", "PPRF"), ("assistant", "SPRF"))
"""Primary and secondary performer. Source: HL7 v3 ParticipationType."""


@dataclass(frozen=True)
class Visit:
    """A case and how far its chart has come. Ids follow from the case and from what a resource is
    about, so that the same record gives the same bundle."""

    case: Case
    status: Status
    closed: bool

    def id(self, *about: object) -> str:
        """Return the UUID of what a resource is about."""
        return str(uuid5(NAMESPACE, "\n".join(str(each) for each in (self.case.id, *about))))

    def reference(self, *about: object) -> Data:
        """Return a reference to a resource of the bundle."""
        return {"reference": f"urn:uuid:{self.id(*about)}"}

    def resource(self, kind: str, *about: object, **fields: object) -> Data:
        """Return a resource; fields that are None are left out."""
        stated = {name: value for name, value in fields.items() if value is not None}
        return {"resourceType": kind, "id": self.id(*about), **stated}

    def by(self, name: str) -> Data:
        """Return a reference to a person by name."""
        return self.reference("person", plain(name)) if name.strip() else {"display": "not stated"}

    @property
    def performers(self) -> list[Data] | None:
        """Return a reference to the clinician, None where none is stated."""
        return [self.by(self.case.clinician)] if self.case.clinician.strip() else None


def moment(time: datetime) -> str:
    """Return a time with its zone as FHIR has it, whose zones are whole minutes."""
    offset = time.utcoffset() or timedelta()
    if offset % timedelta(minutes=1):
        time = time - offset
        return time.replace(tzinfo=None).isoformat() + "+00:00"
    return time.isoformat()


def frame(visit: Visit, signers: tuple[str, ...]) -> Iterator[Data]:
    """Yield the animal, its owner's reference, the people and the visit; `signers` are those in
    whose names the chart was closed."""
    case = visit.case
    yield _patient(visit)
    if case.owner_reference:
        yield visit.resource(
            "RelatedPerson",
            "owner",
            identifier=[{"system": OWNERS, "value": case.owner_reference}],
            patient=visit.reference("patient"),
            relationship=[{"text": "owner"}],
        )
    for name in dict.fromkeys(plain(each) for each in (case.clinician, case.assistant, *signers)):
        if name.strip():
            yield visit.resource("Practitioner", "person", name, name=[{"text": name}])
    yield _encounter(visit)


def _patient(visit: Visit) -> Data:
    case = visit.case
    code, shown = SPECIES_CODES[case.species]
    parts = [("species", concept(coding(SNOMED, code, shown), text=case.species))]
    if case.breed.strip():
        parts.append(("breed", {"text": case.breed}))
    if case.neutered is not None:
        status = "neutered" if case.neutered else "intact"
        parts.append(("genderStatus", {"coding": [coding(GENDER_STATUS, status)]}))
    about = [{"url": part, "valueCodeableConcept": value} for part, value in parts]
    born = case.birth_date
    return visit.resource(
        "Patient",
        "patient",
        extension=[{"url": ANIMAL, "extension": about}],
        name=[{"text": case.animal}] if case.animal.strip() else None,
        gender=case.sex,
        birthDate=born.isoformat() if born else None,
    )


def _encounter(visit: Visit) -> Data:
    case = visit.case
    names = {"clinician": case.clinician, "assistant": case.assistant}
    people = [
        {"type": [{"coding": [coding(PARTICIPATION, code)]}], "individual": visit.by(names[role])}
        for role, code in _SPOKEN_ROLES
        if names[role].strip()
    ]
    return visit.resource(
        "Encounter",
        "visit",
        identifier=[{"system": CASES, "value": case.id}],
        status="finished" if visit.closed else "in-progress",
        **{"class": coding(ACT, "AMB")},
        type=[detail("dental_examination")],
        subject=visit.reference("patient"),
        participant=people or None,
        period={"start": moment(case.opened)},
        reasonCode=[{"text": case.reason}] if case.reason.strip() else None,
    )
