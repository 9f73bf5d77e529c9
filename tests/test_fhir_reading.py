"""A FHIR bundle of ours read back, and every other file refused in one sentence."""

import json
from base64 import b64encode
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audio_fixtures.expected import typed
from audio_fixtures.texts import VISITS
from audio_fixtures.texts import visit as whole_visit
from dictate.chart.chart import blank_chart, fold
from dictate.chart.events import Charted, Closed, Event, Heard, Noted, Observed
from dictate.chart.finding import SITES, Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.observation import Observation, observation_kinds
from dictate.chart.rules import displaced_by, objection_to_finding
from dictate.errors import DictateError
from dictate.exchange import reading
from dictate.exchange.bundle import bundle_data, bundle_text
from dictate.exchange.codes import DIGEST, FINDINGS, FORMAT, TABLES, tooth_concept
from dictate.exchange.limits import MOST_BYTES
from dictate.exchange.reading import ENGINE, read_bundle
from dictate.exchange.sameness import digest_of
from dictate.report.record import read_json, record_of, write_json
from tests.fhir_visits import IMPORTED, OPENED, SAID, closed_record, record, session_of
from tests.test_record_versions import STEPS


def read(source):
    return read_bundle(source, IMPORTED)


def refused(source):
    with pytest.raises(DictateError) as raised:
        read(source)
    sentence = str(raised.value)
    assert sentence.count("\n") == 0
    assert sentence.endswith(".")
    return sentence


def noted(of):
    return [(each.text, each.tooth, each.verified) for each in of.notes]


def assert_nothing_is_lost(of):
    """Read a record's bundle back, and the record of that by way of JSON."""
    again = read(bundle_text(of))
    assert again.case == of.case
    assert again.findings == of.findings
    assert again.observations == of.observations
    assert noted(again) == noted(of)
    assert again.decisions == of.decisions
    assert again.dentition == of.dentition
    assert again.chart.closed == of.chart.closed
    assert again.assessment == of.assessment
    return again


@pytest.mark.parametrize("name", VISITS)
def test_a_whole_visit_comes_back_as_it_was(name):
    session = typed(whole_visit(name))
    assert_nothing_is_lost(record_of(session.case, session.events))


def test_a_bundle_read_and_written_again_is_the_same_bundle():
    text = bundle_text(record(*SAID))
    assert bundle_text(read(text)) == text


def test_a_bundle_in_a_file_is_read(tmp_path):
    (tmp_path / "odo.json").write_text(bundle_text(record(*SAID)), encoding="utf-8")
    assert read(tmp_path / "odo.json").findings == record(*SAID).findings


def test_an_imported_record_is_a_record_like_any_other(tmp_path):
    again = read(bundle_text(record(*SAID)))
    write_json(again, tmp_path / "record.json")
    assert read_json(tmp_path / "record.json") == again


def test_its_first_event_says_where_it_came_from_and_when(tmp_path):
    (tmp_path / "odo.json").write_text(bundle_text(record(*SAID)), encoding="utf-8")
    first = read(tmp_path / "odo.json").events[0]
    assert (first.what.text, first.what.engine, first.time) == (
        "Imported from the FHIR bundle odo.json",
        ENGINE,
        IMPORTED,
    )


def test_every_finding_keeps_its_time_and_can_be_taken_back_alone():
    of = record(*SAID)
    again = read(bundle_text(of))
    charted = [each for each in again.events if isinstance(each.what, Charted)]
    assert {each.time for each in charted} == {
        each.time for each in of.events if isinstance(each.what, Charted)
    }
    assert len({each.utterance for each in charted}) == len(charted) == len(of.findings)


def test_a_closed_chart_comes_back_closed_and_without_a_seal_of_another_chain(tmp_path):
    of = closed_record(tmp_path)
    again = assert_nothing_is_lost(of)
    closing = again.events[-1]
    assert closing.what == Closed(by="Dr. Runa Tarn")
    assert closing.time == of.events[-1].time
    assert again.hashes != of.hashes


def test_an_amended_chart_comes_back_amended(tmp_path):
    after = ("open the chart again", "yes", "208 mobility 2", "close the chart", "yes")
    of = closed_record(tmp_path, *after)
    again = assert_nothing_is_lost(of)
    statuses = {
        each["resource"]["status"]
        for each in bundle_data(again)["entry"]
        if each["resource"]["resourceType"] == "DiagnosticReport"
    }
    assert statuses == {"amended"}


def test_an_unverified_note_comes_back_unverified_and_without_its_sound():
    of = record("note: calm")
    note = Noted(text="carm", clip="note-1.flac")
    events = [of.events[0], of.events[1].model_copy(update={"what": note})]
    assert read(bundle_text(record_of(of.case, events))).notes == (Noted(text="carm"),)


def test_a_root_charted_again_after_the_extraction_of_a_missing_tooth_comes_back():
    happened = [
        Finding(tooth=208, kind="missing"),
        Finding(tooth=208, kind="retained_root"),
        Finding(tooth=208, kind="extracted", value="XSS"),
        Finding(tooth=208, kind="retained_root"),
    ]
    of = record_of(record().case, events_of(Charted(findings=(each,)) for each in happened))
    assert [each.kind for each in of.findings] == ["missing", "extracted", "retained_root"]
    assert_nothing_is_lost(of)


def events_of(happenings, step=timedelta(seconds=5)):
    events = []
    for each in happenings:
        number = len(events) + 1
        time = OPENED + step * number
        said = Heard(text="…", outcome="charted")
        events.append(Event(sequence=number, utterance=number, time=time, what=said))
        events.append(Event(sequence=number + 1, utterance=number, time=time, what=each))
    return events


def test_a_clock_that_was_set_back_changes_no_order():
    of = record(*SAID, every=timedelta(seconds=-7))
    assert_nothing_is_lost(of)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    said=st.lists(st.sampled_from((*SAID, *STEPS)), max_size=25),
    seconds=st.integers(-5, 60),
)
def test_any_visit_that_a_session_takes_comes_back(said, seconds):
    session = session_of(*said, every=timedelta(seconds=seconds))
    assert_nothing_is_lost(record_of(session.case, session.events))


@st.composite
def findings_in(draw, chart):
    row = draw(st.sampled_from(list(finding_kinds().values())))
    teeth = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    values = {
        "none": st.none(),
        "term": st.sampled_from(list(row.terms) or ["-"]),
        "length": st.one_of(
            st.integers(row.least, row.top(3)),
            st.floats(row.least, row.top(3)),
        ),
    }.get(row.value, st.integers(row.least, row.top(3)))
    site = draw(st.sampled_from([None, *sorted(SITES)])) if row.sited else None
    return Finding(
        tooth=draw(st.sampled_from(teeth)),
        kind=row.kind,
        value=draw(values),
        unit=row.unit,
        site=site,
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data(), species=st.sampled_from(["dog", "cat"]))
def test_any_chart_that_can_be_comes_back(data, species):
    case = record(species=species, weight_kg=4).case
    chart, charted = blank_chart(case), []
    for _ in range(data.draw(st.integers(1, 25))):
        finding = data.draw(findings_in(chart))
        if objection_to_finding(chart, finding, correcting=True) is None:
            happening = Charted(findings=(finding,), replaced=displaced_by(chart, finding))
            charted.append(happening)
            chart = chart.after(happening)
    events = events_of(charted)
    assert fold(blank_chart(case), events).findings == chart.findings
    assert_nothing_is_lost(record_of(case, events))


SEEN = [
    Observation(kind=row.kind, value=value, place=place)
    for row in observation_kinds().values()
    for value in (row.terms or ([2] if row.value == "grade" else [None]))
    for place in (row.places if row.placed or row.paired else [None, *row.places])
]


@pytest.mark.parametrize(
    "seen",
    [
        *SEEN,
        Observation(
            kind="mass",
            place="tongue",
            tooth=408,
            size_mm=(0.1, 199.99),
            colour="black",
            surface="rough",
        ),
        Observation(kind="block", value="mental", place="left", volume_ml=0.05),
        Observation(kind="block", value="mental", place="left", agent="articaine"),
        Observation(kind="chin", value="normal", covered=True),
    ],
    ids=lambda seen: seen.words(),
)
def test_every_observation_that_the_table_has_comes_back(seen):
    assert_nothing_is_lost(record_of(record().case, events_of([Observed(observations=(seen,))])))


WORDS = st.text(max_size=30).filter(lambda text: text.isprintable() and text == text.strip())


@settings(max_examples=50, deadline=None)
@given(
    animal=WORDS,
    clinician=WORDS,
    assistant=WORDS,
    history=WORDS,
    weight=st.floats(0.01, 60),
    age=st.floats(0, 40),
    note=WORDS,
)
def test_words_and_numbers_come_back_to_the_last_digit(
    animal, clinician, assistant, history, weight, age, note
):
    of = record(
        "note: x",
        animal=animal,
        clinician=clinician,
        assistant=assistant,
        history=history,
        weight_kg=weight,
        birth_date=None,
        age_years=age,
    )
    told = of.events[1].model_copy(update={"what": Noted(text=note, verified=True)})
    assert_nothing_is_lost(record_of(of.case, [of.events[0], told]))


@pytest.fixture
def data():
    return json.loads(bundle_text(record(*SAID)))


def resource(data, kind, code=None):
    return next(
        each["resource"]
        for each in data["entry"]
        if each["resource"]["resourceType"] == kind
        and (code is None or code in json.dumps(each["resource"].get("code")))
    )


def meant(data):
    """The text of a bundle that was changed on purpose, its digest with it."""
    parsed = json.loads(json.dumps(data), parse_float=Decimal)
    tag = next(each for each in data["meta"]["tag"] if each["system"] == DIGEST)
    entries = parsed.get("entry") or []
    tag["code"] = digest_of(each["resource"] for each in entries)
    return json.dumps(data)


def taken_out(data, kind):
    data["entry"] = [each for each in data["entry"] if each["resource"]["resourceType"] != kind]


CHANGES = [
    lambda data: resource(data, "Observation", "pocket").update(
        valueQuantity={
            "value": 5,
            "unit": "cm",
            "system": "http://unitsofmeasure.org",
            "code": "cm",
        }
    ),
    lambda data: resource(data, "Observation", "pocket").pop("component"),
    lambda data: resource(data, "Observation", "pocket").update(status="final"),
    lambda data: resource(data, "Observation", "pocket").update(status="entered-in-error"),
    lambda data: resource(data, "Observation", "pocket")["bodySite"].update(
        text="209, left maxillary first molar, mesial"
    ),
    lambda data: resource(data, "Observation", "pocket").pop("effectiveDateTime"),
    lambda data: resource(data, "Observation", "pocket").update(
        dataAbsentReason={"text": "not seen"}
    ),
    lambda data: resource(data, "Observation", "pocket").pop("valueQuantity"),
    lambda data: resource(data, "Observation", "calculus").update(method={"text": "0 to 4"}),
    lambda data: resource(data, "Observation", "index_scale").update(valueInteger=4),
    lambda data: data["entry"].pop(12),
    lambda data: data["entry"].append(data["entry"][12]),
    lambda data: data["entry"][12].update(fullUrl="urn:uuid:" + "0" * 8),
    lambda data: data["entry"].reverse(),
    lambda data: data.pop("entry"),
    lambda data: data.update(entry=[]),
    lambda data: data.update(entry={}),
    lambda data: taken_out(data, "Patient"),
    lambda data: taken_out(data, "Encounter"),
    lambda data: taken_out(data, "DiagnosticReport"),
    lambda data: taken_out(data, "MedicationAdministration"),
    lambda data: resource(data, "Patient")["extension"].clear(),
    lambda data: resource(data, "DocumentReference")["content"][0]["attachment"].update(data="!"),
    lambda data: data["identifier"].update(value="another"),
]


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_damaged_is_refused_whole(data, change):
    change(data)
    why = refused(json.dumps(data))
    assert "export it again" in why or "sound FHIR" in why


@pytest.mark.parametrize("change", CHANGES)
def test_what_does_not_fit_together_is_refused_whole_even_where_the_digest_does(data, change):
    change(data)
    why = refused(meant(data))
    assert "export it again" in why or "sound FHIR" in why


def test_a_value_changed_by_hand_is_noticed(data):
    resource(data, "Patient").update(gender="male")
    assert "export it again" in refused(json.dumps(data))


def test_what_cannot_be_is_refused_by_the_rules_of_the_chart(data):
    """A dog's 404 has one root, so no furcation: dictate/chart/species/dog.toml."""
    resource(data, "Observation", "furcation")["bodySite"] = tooth_concept(404)
    assert "says what cannot be: event" in refused(meant(data))
    assert "404 has one root" in refused(meant(data))


def test_a_normal_tooth_with_a_finding_is_refused():
    findings = (Finding(tooth=208, kind="normal"), Finding(tooth=208, kind="calculus", value=2))
    events = events_of([Charted(findings=(each,)) for each in findings])
    why = refused(bundle_text(record_of(record().case, events)))
    assert "says what cannot be: event 5 cannot be true: normal stands, so calculus 2 cannot" in why


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda data: resource(data, "Encounter")["identifier"][0].update(value="Über"), "id"),
        (
            lambda data: resource(data, "Observation", "29463-7")["valueQuantity"].update(
                value=900
            ),
            "weight_kg cannot be 900",
        ),
    ],
)
def test_a_case_that_cannot_be_is_refused(data, change, why):
    change(data)
    assert why in refused(meant(data))


def test_what_another_program_may_add_does_no_harm(data):
    for each in data["entry"]:
        each["resource"]["meta"] = {"versionId": "1", "lastUpdated": "2026-06-01T12:00:00Z"}
    resource(data, "Patient")["text"] = {
        "status": "generated",
        "div": '<div xmlns="http://www.w3.org/1999/xhtml">Odo</div>',
    }
    assert read(json.dumps(data)).findings == record(*SAID).findings


def test_words_of_other_tables_are_passed_over_and_codes_are_not(data):
    tag = next(each for each in data["meta"]["tag"] if each["system"] == TABLES)
    tag["code"] = "0" * 16
    pocket = resource(data, "Observation", "pocket")
    pocket["code"]["text"] = pocket["code"]["coding"][0]["display"] = "Depth of the pocket"
    assert read(meant(data)).findings == record(*SAID).findings
    pocket["code"]["coding"][0]["code"] = "depth"
    assert "import the record of the case instead" in refused(meant(data))


def test_a_bundle_of_another_program_is_not_half_read(data):
    data["identifier"]["system"] = "https://example.org/cases"
    assert "another program" in refused(json.dumps(data))
    bare = {"resourceType": "Bundle", "type": "collection", "entry": data["entry"]}
    assert "another program" in refused(json.dumps(bare))


def test_a_kind_of_another_table_is_not_guessed(data):
    resource(data, "Observation", "pocket")["code"]["coding"][0].update(
        system=FINDINGS, code="halitosis"
    )
    assert "export it again" in refused(meant(data))


def test_a_newer_bundle_asks_for_a_newer_program(data):
    next(each for each in data["meta"]["tag"] if each["system"] == FORMAT)["code"] = "2"
    assert refused(json.dumps(data)) == (
        "The bundle is a bundle of version 2 and this dictate reads up to 1: "
        "open it with a newer dictate."
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        "{}",
        '{"resourceType": "Patient"}',
        '{"resourceType": ["Bundle"]}',
        '{"resourceType": "Bundle", "resourceType": "Bundle"}',
        '{"resourceType": "Bundle", "total": NaN}',
        '{"resourceType": "Bundle", "meta": {"tag": "x"}, "identifier": []}',
        "[" * 100_000,
        '{"a":' * 60 + "1" + "}" * 60,
        '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><Bundle/>',
        "1" * 5_000,
        "[" + "0.1," * 1_000_000 + "0]",
        "\ud800",
    ],
)
def test_what_is_no_bundle_is_refused_in_one_sentence(text):
    refused(text)


@pytest.mark.parametrize("unseen", ["\u202e", "\u200b", "\x1b[31m", "\t", "\u2066"])
def test_words_with_anything_unseen_are_refused(data, unseen):
    resource(data, "Patient")["name"][0]["text"] = f"Odo{unseen}x"
    assert "unseen characters" in refused(json.dumps(data))


def test_a_note_with_anything_unseen_in_its_document_is_refused(data):
    note = resource(data, "DocumentReference")
    hidden = b64encode("calm\u202eharmless".encode()).decode()
    note["content"][0]["attachment"]["data"] = hidden
    refused(meant(data))


def test_a_number_beyond_what_can_be_kept_is_refused_not_rounded(data):
    depth = resource(data, "Observation", "pocket")["valueQuantity"]
    depth["value"] = 12345
    text = json.dumps(data)
    assert "export it again" in refused(text.replace("12345", "6.00000000000000000001"))
    assert refused(text.replace("12345", "1e400"))
    assert refused(text.replace("12345", "9" * 4000))
    assert read(text.replace("12345", "6.00")).findings == record(*SAID).findings


def test_true_is_not_taken_for_one(data):
    resource(data, "Observation", "gingivitis")["valueInteger"] = True
    refused(json.dumps(data))


def test_a_file_that_is_too_large_is_not_read(tmp_path, monkeypatch):
    with (tmp_path / "large.json").open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    assert "larger than 30 MB" in refused(tmp_path / "large.json")


@pytest.mark.parametrize(
    "change",
    [
        lambda data: resource(data, "Encounter")["participant"][0]["individual"].update(
            reference=""
        ),
        lambda data: resource(data, "Patient")["name"][0].update(resource_type="Odo"),
        lambda data: resource(data, "Patient").update({"x\ny" + 6000 * "z": "Odo"}),
    ],
)
def test_what_fhir_says_in_many_lines_is_said_in_one_that_can_be_read(data, change):
    change(data)
    why = refused(meant(data))
    assert "is no sound FHIR bundle: entry" in why
    assert len(why) <= 400


def test_a_bundle_of_too_many_entries_is_not_read(data):
    data["entry"] *= reading.MOST_ENTRIES // len(data["entry"]) + 1
    refused(json.dumps(data))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(source=st.data())
def test_one_byte_altered_is_refused_or_changes_nothing(source):
    """Never is something else read: what is left out of the reading changes nothing."""
    of = record("208 pocket 6 mesial furcation 2", "left tonsil enlarged", "note: calm")
    whole = bundle_text(of).encode()
    place = source.draw(st.integers(0, len(whole) - 1))
    byte = source.draw(st.integers(0, 255).filter(lambda each: each != whole[place]))
    text = (whole[:place] + bytes([byte]) + whole[place + 1 :]).decode(errors="replace")
    try:
        again = read(text)
    except DictateError:
        return
    assert (again.case, again.findings, again.observations, noted(again)) == (
        of.case,
        of.findings,
        of.observations,
        noted(of),
    )
