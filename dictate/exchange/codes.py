"""What is coded in a bundle and how: code systems that are assigned, and our own for all else.

Our own systems are URNs made of UUIDs, so that no domain is claimed. What the codes of ours mean
stands in the tables of findings and observations; docs/exchange.md lists every system.
"""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any, Literal, TypeAlias
from uuid import UUID, uuid5

from dictate.chart.anatomy import Species, tooth_name
from dictate.chart.finding import Finding
from dictate.chart.kinds import FindingKind, finding_kinds
from dictate.chart.observation import Observation, ObservationKind, observation_kinds
from dictate.text import harmless

Data: TypeAlias = dict[str, Any]
"""A FHIR resource, or a part of one, as the plain data of its JSON."""

NAMESPACE = UUID("e36bc92e-c974-4043-98ea-20f71c4c601c")
"""All UUIDs of bundles are made from this one (UUID version 5, RFC 9562)."""


def _own(name: str) -> str:
    return uuid5(NAMESPACE, name).urn


FINDINGS = _own("findings")
OBSERVATIONS = _own("observations")
TERMS = _own("terms")
TEETH = _own("modified Triadan tooth numbers")
PLACES = _own("places")
DETAILS = _own("details")
RULES = _own("rules that propose")
CASES = _own("cases")
OWNERS = _own("owner references")
FORMAT = _own("format of bundles")
TABLES = _own("words of the tables")
DIGEST = _own("digest")

OWN_SYSTEMS = {
    "findings": FINDINGS,
    "observations": OBSERVATIONS,
    "terms": TERMS,
    "teeth": TEETH,
    "places": PLACES,
    "details": DETAILS,
    "rules that propose": RULES,
    "cases": CASES,
    "owner references": OWNERS,
    "format": FORMAT,
    "words of the tables": TABLES,
    "digest": DIGEST,
}
"""Our own systems by name."""

UCUM = "http://unitsofmeasure.org"
LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
GENDER_STATUS = "http://hl7.org/fhir/animal-genderstatus"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"
ACT = "http://terminology.hl7.org/CodeSystem/v3-ActCode"
PARTICIPATION = "http://terminology.hl7.org/CodeSystem/v3-ParticipationType"
SIGNATURE_TYPE = "urn:iso-astm:E1762-95:2013"

SPECIES_CODES: dict[Species, tuple[str, str]] = {
    "dog": ("448771007", "Domestic dog"),
    "cat": ("448169003", "Domestic cat"),
}
"""SNOMED CT codes and what they are shown as. Source: HL7 Europe, Laboratory Report guide, value
set "Types of species"."""

WEIGHT = {"system": LOINC, "code": "29463-7", "display": "Body weight"}
"""Source: FHIR R4B, Body Weight profile (hl7.org/fhir/R4B/bodyweight.html)."""

AGE = {"system": LOINC, "code": "30525-0", "display": "Age"}
"""Source: HL7 Terminology, value set LOINCObservationActContextAgeDefinitionCode."""

Category = Literal["exam", "imaging", "procedure", "vital-signs", "survey"]

DETAIL_WORDS = {
    "dental_examination": "Veterinary dental examination",
    "history": "History",
    "note": "Note",
    "note_site": "Tooth that a note belongs to",
    "short_nosed": "Short-nosed",
    "index_scale": "Top grade of the calculus, plaque and gingivitis indices",
    "index_0_3": "Index from 0 to 3",
    "index_0_4": "Index from 0 to 4",
    "dentition_expected": "Dentition expected at opening",
    "dentition": "Dentition as stated in the visit",
    "permanent": "permanent",
    "deciduous": "deciduous",
    "mixed": "mixed",
    "site": "Site on the tooth",
    "tooth": "Tooth that it lies at",
    "size_1": "First dimension",
    "size_2": "Second dimension",
    "colour": "Colour",
    "surface": "Surface",
    "covered": "Not spoken for itself: covered by “examination normal”",
    "agent_not_stated": "Agent not stated",
    "accepted": "Accepted as proposed",
    "changed": "Accepted with a change",
    "dismissed": "Dismissed",
    "closed": "Closed as final",
    "reopened": "Opened again for an addendum",
}
"""The codes of DETAILS that are not words themselves, and what they mean."""


def coding(system: str, code: str, display: str | None = None) -> Data:
    """Return a Coding."""
    shown = {} if display is None else {"display": display}
    return {"system": system, "code": code, **shown}


def concept(*codings: Data, text: str | None = None) -> Data:
    """Return a CodeableConcept; its text is the last coding's display where none is given."""
    return {"coding": list(codings), "text": text or codings[-1]["display"]}


def detail(code: str) -> Data:
    """Return a concept of DETAILS; sites, colours and surfaces are their own words."""
    return concept(coding(DETAILS, code, DETAIL_WORDS.get(code, code)))


def category(code: Category) -> Data:
    """Return the category of an Observation."""
    return {"coding": [coding(CATEGORY, code)]}


def quantity(value: float, unit: str) -> Data:
    """Return a Quantity in a unit whose UCUM code is the unit itself: mm, %, mL, kg. A whole number
    has no decimals, since none were said."""
    whole = isinstance(value, float) and value.is_integer()
    return {"value": int(value) if whole else value, "unit": unit, "system": UCUM, "code": unit}


def kind_coding(row: FindingKind | ObservationKind) -> Data:
    """Return the coding of a kind of finding or observation."""
    system = FINDINGS if isinstance(row, FindingKind) else OBSERVATIONS
    return coding(system, row.kind, row.title)


def term_coding(of: Finding | Observation) -> Data:
    """Return the coding of the term that a finding or an observation has for its value, such as
    "fracture.CCF"."""
    return coding(TERMS, f"{of.kind}.{of.value}", of.row.terms[str(of.value)])


def kind_concept(of: Finding | Observation) -> Data:
    """Return the kind of a finding or an observation, with its term where it has one, as what was
    done."""
    if of.value is None:
        return concept(kind_coding(of.row))
    term = term_coding(of)
    return concept(kind_coding(of.row), term, text=f"{of.row.title}: {term['display']}")


def tooth_concept(tooth: int, site: str | None = None) -> Data:
    """Return a tooth by its modified Triadan number (Floyd 1991), for which no code system is
    assigned; `site` is only told in the text."""
    words = [str(tooth), tooth_name(tooth), *([site] if site else [])]
    return concept(coding(TEETH, str(tooth), tooth_name(tooth)), text=", ".join(words))


def place_concept(place: str) -> Data:
    """Return a place of the head or the mouth."""
    return concept(coding(PLACES, place, place.replace("_", " ")))


def plain(text: str) -> str:
    """Return a text of one or more lines with nothing unseen in it."""
    return "\n".join(harmless(line) for line in text.split("\n"))


def words_digest() -> str:
    """Return a digest of all words for people that bundles of this dictate have from its tables:
    where another made a bundle, they may differ without a change of what is coded."""
    rows: tuple[FindingKind | ObservationKind, ...] = (
        *finding_kinds().values(),
        *observation_kinds().values(),
    )
    words = [[row.kind, row.title, row.terms] for row in rows]
    teeth = [
        tooth_name(tooth) for jaw in range(100, 900, 100) for tooth in range(jaw + 1, jaw + 12)
    ]
    return sha256(json.dumps([words, teeth, DETAIL_WORDS]).encode()).hexdigest()[:16]
