"""What a FHIR bundle of ours holds, held against the published specification, release 4B
(hl7.org/fhir/R4B); the page stands beside each fact."""

import hashlib
import json
import re
from base64 import b64decode, b64encode
from datetime import timedelta, timezone
from pathlib import Path

import pytest
from fhir.resources.R4B.bundle import Bundle

from dictate.chart.events import Closed
from dictate.errors import DictateError
from dictate.exchange.bundle import bundle_data, bundle_text, fhir_bundle, validated, write_bundle
from dictate.exchange.codes import FINDINGS, OWN_SYSTEMS, TEETH, UCUM
from dictate.report.record import record_of
from tests.fhir_visits import OPENED, SAID, closed_record, record, session_of

ASSIGNED = {
    "http://unitsofmeasure.org",
    "http://loinc.org",
    "http://snomed.info/sct",
    "http://hl7.org/fhir/animal-genderstatus",
    "http://terminology.hl7.org/CodeSystem/observation-category",
    "http://terminology.hl7.org/CodeSystem/v3-ActCode",
    "http://terminology.hl7.org/CodeSystem/v3-ParticipationType",
    "urn:iso-astm:E1762-95:2013",
}
"""Terminologies page (terminologies-systems.html) and the value sets of the elements used."""


@pytest.fixture(scope="module")
def whole():
    return bundle_data(record(*SAID))


def resources(bundle, kind):
    every = [each["resource"] for each in bundle["entry"]]
    return [each for each in every if each["resourceType"] == kind]


def one(bundle, kind):
    (found,) = resources(bundle, kind)
    return found


def codes(concept, system=FINDINGS):
    return [each["code"] for each in concept["coding"] if each["system"] == system]


def coded(bundle, resource, code):
    """The resources of a kind that have a code in any system."""
    return [
        each
        for each in resources(bundle, resource)
        if code in [coding["code"] for coding in each["code"]["coding"]]
    ]


def parts(data):
    yield data
    inner = data.values() if isinstance(data, dict) else data if isinstance(data, list) else ()
    for each in inner:
        yield from parts(each)


def test_a_bundle_of_a_whole_visit_is_sound_fhir(whole):
    assert len(fhir_bundle(record(*SAID)).entry) == len(whole["entry"]) > 40


def test_a_bundle_of_an_empty_visit_is_sound_fhir():
    bare = {"animal": "", "clinician": "", "assistant": "", "breed": "", "neutered": None}
    bare |= {"owner_reference": "", "reason": "", "history": "", "short_nosed": None}
    bundle = bundle_data(record(**bare, birth_date=None, weight_kg=None))
    validated(bundle)
    assert resources(bundle, "Practitioner") == resources(bundle, "RelatedPerson") == []


def test_nothing_in_a_bundle_is_empty(whole):
    """json.html: no null, no empty array, object or string; att-1, obs-7 likewise by hand."""
    for part in parts(whole):
        assert part not in (None, "", [], {})
    for each in resources(whole, "Observation"):
        inner = [part["code"]["coding"][0] for part in each.get("component", ())]
        assert each["code"]["coding"][0] not in inner


def test_ids_are_such_as_fhir_allows(whole):
    """datatypes.html, id: at most 64 letters, digits, hyphens and dots."""
    assert all(
        re.fullmatch(r"[A-Za-z0-9.-]{1,64}", part["id"]) for part in parts(whole) if _has_id(part)
    )


def _has_id(part):
    return isinstance(part, dict) and "id" in part


def test_the_written_text_reads_as_a_bundle(tmp_path):
    write_bundle(record(*SAID), tmp_path / "odo.json")
    text = (tmp_path / "odo.json").read_text(encoding="utf-8")
    assert Bundle.model_validate_json(text).type == "collection"
    assert (tmp_path / "odo.json").stat().st_mode & 0o777 == 0o600


def test_the_same_record_gives_the_same_bundle(whole):
    assert bundle_data(record(*SAID)) == whole


def test_every_reference_leads_to_an_entry_and_every_entry_has_its_own_url(whole):
    """bundle.html, "Resolving references in Bundles"."""
    urls = [each["fullUrl"] for each in whole["entry"]]
    assert urls == [f"urn:uuid:{each['resource']['id']}" for each in whole["entry"]]
    assert len(set(urls)) == len(urls)
    referred = {part["reference"] for part in parts(whole) if _is_reference(part)}
    assert referred <= set(urls)
    assert referred


def _is_reference(part):
    return isinstance(part, dict) and "reference" in part


def test_every_code_system_is_assigned_or_is_ours(whole):
    """No code of teeth of people (ISO 3950) is used for an animal."""
    systems = {part["system"] for part in parts(whole) if _has_system(part)}
    assert systems <= ASSIGNED | set(OWN_SYSTEMS.values())
    assert all(each.startswith("urn:uuid:") for each in OWN_SYSTEMS.values())


def _has_system(part):
    return isinstance(part, dict) and "system" in part


def test_the_animal_is_told_by_the_standard_extension(whole):
    """extension-patient-animal.html: species 1..1, breed 0..1, genderStatus 0..1, each a
    CodeableConcept; codesystem-animal-genderstatus.html: neutered, intact, unknown."""
    (extension,) = one(whole, "Patient")["extension"]
    assert extension["url"] == "http://hl7.org/fhir/StructureDefinition/patient-animal"
    about = {each["url"]: each["valueCodeableConcept"] for each in extension["extension"]}
    assert list(about) == ["species", "breed", "genderStatus"]
    assert codes(about["genderStatus"], "http://hl7.org/fhir/animal-genderstatus") == ["neutered"]
    assert about["breed"] == {"text": "Harrier"}


@pytest.mark.parametrize(("species", "code"), [("dog", "448771007"), ("cat", "448169003")])
def test_a_species_has_its_snomed_code(species, code):
    """HL7 Europe, Laboratory Report guide, value set "Types of species"."""
    bundle = bundle_data(record(species=species, weight_kg=5))
    species = one(bundle, "Patient")["extension"][0]["extension"][0]["valueCodeableConcept"]
    assert codes(species, "http://snomed.info/sct") == [code]


def test_gender_birth_and_name_are_those_of_the_case(whole):
    patient = one(whole, "Patient")
    assert (patient["gender"], patient["birthDate"]) == ("female", "2019-04-02")
    assert patient["name"] == [{"text": "Odo"}]


def test_no_birth_date_is_invented_where_only_an_age_is_known():
    bundle = bundle_data(record(birth_date=None, age_years=7))
    assert "birthDate" not in one(bundle, "Patient")
    (age,) = coded(bundle, "Observation", "30525-0")
    assert age["valueQuantity"] == {"value": 7, "unit": "years", "system": UCUM, "code": "a"}


def test_an_owner_is_a_reference_and_nothing_else(whole):
    owner = one(whole, "RelatedPerson")
    assert owner["identifier"][0]["value"] == "K-1042"
    assert set(owner) == {"resourceType", "id", "identifier", "patient", "relationship"}


def test_weight_follows_the_profile_of_vital_signs(whole):
    """bodyweight.html: LOINC 29463-7, category vital-signs, a UCUM unit, a time."""
    (weight,) = coded(whole, "Observation", "29463-7")
    assert weight["valueQuantity"] == {"value": 21.5, "unit": "kg", "system": UCUM, "code": "kg"}
    assert weight["category"][0]["coding"][0]["code"] == "vital-signs"
    assert weight["effectiveDateTime"]


def test_a_pocket_has_its_tooth_its_site_and_millimetres(whole):
    pockets = coded(whole, "Observation", "pocket")
    pocket = next(each for each in pockets if codes(each["bodySite"], TEETH) == ["208"])
    assert pocket["bodySite"]["text"] == "208, left maxillary fourth premolar, mesial"
    assert pocket["valueQuantity"] == {"value": 6, "unit": "mm", "system": UCUM, "code": "mm"}
    (site,) = pocket["component"]
    assert site["valueCodeableConcept"]["text"] == "mesial"


def test_a_share_of_bone_lost_is_a_percentage_seen_on_a_radiograph(whole):
    (loss,) = coded(whole, "Observation", "horizontal_bone_loss")
    assert loss["valueQuantity"]["code"] == "%"
    assert loss["category"][0]["coding"][0]["code"] == "imaging"


def test_an_index_states_its_scale_and_a_furcation_has_none(whole):
    (calculus,) = coded(whole, "Observation", "calculus")
    assert (calculus["valueInteger"], calculus["method"]["text"]) == (2, "Index from 0 to 3")
    assert "method" not in coded(whole, "Observation", "furcation")[0]


def test_a_fracture_has_its_class_as_code_and_words(whole):
    (fracture,) = coded(whole, "Observation", "fracture")
    assert fracture["valueCodeableConcept"]["coding"][0]["code"] == "fracture.CCF"
    assert fracture["valueCodeableConcept"]["text"] == "complicated crown fracture"


def test_what_was_only_covered_is_told_from_what_was_spoken(whole):
    nodes = {
        each["bodySite"]["text"]: [part["valueBoolean"] for part in each.get("component", ())]
        for each in coded(whole, "Observation", "lymph_node")
    }
    assert nodes == {"left": [], "right": [True]}


def test_a_mass_has_its_size_and_colour(whole):
    (mass,) = coded(whole, "Observation", "mass")
    sizes = [each["valueQuantity"]["value"] for each in mass["component"][:2]]
    assert (sizes, mass["component"][2]["valueCodeableConcept"]["text"]) == ([5, 7], "pink")


def test_what_was_done_is_a_procedure_on_its_tooth(whole):
    (extraction,) = coded(whole, "Procedure", "extracted")
    assert extraction["code"]["text"] == "Extracted: extracted, surgical (open)"
    assert codes(extraction["bodySite"][0], TEETH) == ["404"]


def test_a_referral_is_not_called_a_procedure_that_was_done():
    bundle = bundle_data(record("go to treatment", "208 referred"))
    assert coded(bundle, "Procedure", "referred") == []
    assert coded(bundle, "Observation", "referred")


def test_a_block_keeps_agent_and_volume_as_they_were_given(whole):
    """medicationadministration.html, mad-1: a dosage has a dose or a rate."""
    given = one(whole, "MedicationAdministration")
    assert given["medicationCodeableConcept"] == {"text": "bupivacaine"}
    assert given["dosage"]["dose"] == {"value": 0.5, "unit": "mL", "system": UCUM, "code": "mL"}
    (infraorbital,) = coded(whole, "Procedure", "block.infraorbital")
    assert given["partOf"] == [{"reference": f"urn:uuid:{infraorbital['id']}"}]


def test_a_block_without_an_agent_says_nothing_of_medicine(whole):
    assert len(coded(whole, "Procedure", "block")) == 2
    assert len(resources(whole, "MedicationAdministration")) == 1


def test_a_note_is_a_document_of_its_tooth(whole):
    notes = [
        each for each in resources(whole, "DocumentReference") if each["type"]["text"] == "Note"
    ]
    text = b64decode(notes[0]["content"][0]["attachment"]["data"]).decode()
    assert (text, notes[0]["docStatus"]) == ("208 check again", "final")
    sites = resources(whole, "BodyStructure")
    assert [codes(each["location"], TEETH) for each in sites] == [["208"], ["404"]]
    for note, site in zip(notes, sites, strict=True):
        assert {"reference": f"urn:uuid:{site['id']}"} in note["context"]["related"]


def test_a_note_of_no_tooth_names_none():
    assert resources(bundle_data(record("note: calm throughout")), "BodyStructure") == []


def test_the_report_gathers_every_observation_and_every_procedure_names_it(whole):
    report = one(whole, "DiagnosticReport")
    observations = [f"urn:uuid:{each['id']}" for each in resources(whole, "Observation")]
    assert [each["reference"] for each in report["result"]] == observations
    named = [each["report"][0]["reference"] for each in resources(whole, "Procedure")]
    assert set(named) == {f"urn:uuid:{report['id']}"}


def test_a_page_is_attached_with_its_size_and_hash():
    """datatypes.html, Attachment: hash is the SHA-1 of the data, base64."""
    pdf = b"%PDF-1.7 \xff\xfe\xfb invented"
    (page,) = one(bundle_data(record(), pdf), "DiagnosticReport")["presentedForm"]
    assert b64decode(page["data"]) == pdf
    assert (page["contentType"], page["size"]) == ("application/pdf", len(pdf))
    assert page["hash"] == b64encode(hashlib.sha1(pdf).digest()).decode()
    report = next(
        each.resource
        for each in fhir_bundle(record(), pdf).entry
        if each.resource.get_resource_type() == "DiagnosticReport"
    )
    assert report.presentedForm[0].size == len(pdf)


def test_times_have_their_zone():
    """datatypes.html, dateTime: a time of day has a zone of whole minutes."""
    odd = timezone(timedelta(hours=1, minutes=2, seconds=3))
    bundle = bundle_data(record(opened=OPENED.astimezone(odd)))
    assert one(bundle, "Encounter")["period"]["start"] == "2026-05-04T08:02:00+00:00"
    there = timezone(timedelta(hours=5, minutes=30))
    bundle = bundle_data(record(opened=OPENED.astimezone(there)))
    assert one(bundle, "Encounter")["period"]["start"] == "2026-05-04T13:32:00+05:30"


@pytest.mark.parametrize(
    ("after", "status"),
    [
        ((), "final"),
        (("open the chart again", "yes"), "preliminary"),
        (
            ("open the chart again", "yes", "208 mobility 2", "close the chart", "yes"),
            "amended",
        ),
    ],
)
def test_the_status_is_that_of_the_chart(tmp_path, after, status):
    """valueset-diagnostic-report-status.html: amended is what was final and was changed."""
    bundle = bundle_data(closed_record(tmp_path, *after))
    validated(bundle)
    assert one(bundle, "DiagnosticReport")["status"] == status
    assert {each["status"] for each in resources(bundle, "Observation")} == {status}


def test_a_chart_that_was_never_closed_is_preliminary(whole):
    assert one(whole, "DiagnosticReport")["status"] == "preliminary"
    assert one(whole, "Encounter")["status"] == "in-progress"
    assert resources(whole, "Provenance") == []


def test_the_seal_of_a_closing_is_its_signature(tmp_path):
    """provenance.html, Provenance.signature; datatypes.html, Signature: type, when, who."""
    closed = closed_record(tmp_path)
    provenance = one(bundle_data(closed), "Provenance")
    (signature,) = provenance["signature"]
    seal = next(each.what.seal for each in closed.events if isinstance(each.what, Closed))
    assert json.loads(b64decode(signature["data"])) == seal.model_dump()
    assert {"type", "when", "who"} <= set(signature)
    assert signature["who"] == provenance["agent"][0]["who"]


def test_a_decision_is_a_plan_and_no_order():
    """servicerequest.html, intent: a plan is not authorised to be acted on."""
    session = session_of(*SAID)
    session.decide([208], "open_root_planing", "dismissed", "")
    decided = one(bundle_data(record_of(session.case, session.events)), "ServiceRequest")
    assert (decided["intent"], decided["status"]) == ("plan", "revoked")


def test_no_word_holds_anything_unseen():
    text = bundle_text(record(animal="Odo\u202e0.5", clinician="Ann\tVale"))
    assert "\u202e" not in text
    assert "Odo⟨U+202E⟩0.5" in text


def test_a_bundle_that_fhir_does_not_allow_is_refused_with_the_place(whole):
    wrong = json.loads(json.dumps(whole))
    wrong["entry"][0]["resource"]["birthDate"] = "spring"
    with pytest.raises(DictateError, match="birthDate is not as FHIR R4B has it"):
        validated(wrong)


def test_every_code_system_is_explained_in_the_documentation(whole):
    text = (Path(__file__).resolve().parent.parent / "docs" / "exchange.md").read_text("utf-8")
    for name, system in OWN_SYSTEMS.items():
        assert f"| `{system}` | {name} |" in text
    assert [system for system in ASSIGNED if system not in text] == []
