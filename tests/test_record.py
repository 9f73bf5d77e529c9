import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.anatomy import SPECIES, anatomy_of
from dictate.chart.case import Case
from dictate.chart.chart import Chart, fold
from dictate.chart.events import Charted, Event, Heard, Redone, Skipped, ToothChosen, Undone
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.rules import displaced_by, objection_to_finding
from dictate.errors import DictateError
from dictate.report.record import read_json, record_of, schema_text, write_json

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)
SCHEMA = Path(__file__).resolve().parent.parent / "docs" / "record.schema.json"
SITES = (None, "mesial", "buccal", "mesiolabial", "distolingual", "facial")


def case(species="dog", index_scale=4):
    return Case(id="mila-1", species=species, opened=OPENED, animal="Mila", index_scale=index_scale)


def happened(*utterances):
    """Every utterance is what it brought about; it is heard first."""
    events = []
    for utterance in utterances:
        number = len(events) + 1
        for what in (Heard(text="…", outcome="charted"), *utterance):
            time = OPENED + timedelta(seconds=len(events))
            events.append(Event(sequence=len(events) + 1, utterance=number, time=time, what=what))
    return events


def charted(*findings, replaced=()):
    return Charted(findings=findings, replaced=replaced)


def depth(tooth, value, site):
    return Finding(tooth=tooth, kind="pocket", value=value, unit="mm", site=site)


CALCULUS = Finding(tooth=108, kind="calculus", value=2)
EXAMINATION = happened(
    [ToothChosen(tooth=108), charted(CALCULUS)],
    [charted(depth(108, 5, "mesiobuccal"))],
    [Skipped(tooth=109)],
    [charted(Finding(tooth=504, kind="mobility", value=2))],
)


@pytest.fixture
def exported(tmp_path):
    path = tmp_path / "record.json"
    write_json(record_of(case(), EXAMINATION), path)
    return path


def altered(path, change):
    data = json.loads(path.read_text())
    change(data)
    path.write_text(json.dumps(data))
    return path


def complaint(path):
    with pytest.raises(DictateError) as raised:
        read_json(path)
    return str(raised.value)


def test_a_record_lists_every_permanent_tooth_and_how_far_it_has_come():
    states = {tooth.tooth: tooth.state for tooth in record_of(case(), EXAMINATION).teeth}
    assert len(states) == 43
    assert (states[108], states[109], states[110]) == ("charted", "skipped", "not charted")


def test_a_tooth_that_was_only_radiographed_or_scaled_is_not_charted():
    seen = Finding(tooth=108, kind="periapical_lucency")
    events = happened([charted(seen)], [charted(Finding(tooth=109, kind="scaled"))])
    states = {tooth.tooth: tooth.state for tooth in record_of(case(), events).teeth}
    assert (states[108], states[109]) == ("not charted", "not charted")


def test_a_puppys_record_lists_its_deciduous_teeth_and_any_other_that_carries_findings():
    """28 deciduous teeth of the dog. Source: modified Triadan system, Floyd 1991."""
    pup = case().model_copy(update={"dentition": "deciduous"})
    teeth = [tooth.tooth for tooth in record_of(pup, EXAMINATION).teeth]
    assert (len(teeth), teeth[0]) == (29, 508)
    assert teeth[-1] == 108


def test_a_deciduous_tooth_is_listed_when_it_carries_a_finding():
    assert record_of(case(), EXAMINATION).teeth[-1].tooth == 504


def test_what_was_taken_back_is_not_among_the_findings():
    events = happened([charted(CALCULUS)], [Undone(of=1)])
    assert record_of(case(), events).findings == ()


def test_a_record_states_its_format_version_and_index_scale(exported):
    data = json.loads(exported.read_text())
    assert (data["format"], data["version"]) == ("dictate-record", 3)
    assert data["case"]["index_scale"] == 4


def test_a_record_read_back_is_the_record_that_was_written(exported):
    assert read_json(exported) == record_of(case(), EXAMINATION)


def test_only_its_owner_can_read_an_exported_record(exported):
    assert exported.stat().st_mode & 0o777 == 0o600


def test_no_half_written_file_is_left_beside_a_record(exported):
    assert [path.name for path in exported.parent.iterdir()] == ["record.json"]


def test_a_record_that_cannot_be_written_leaves_the_old_one(exported):
    before = exported.read_bytes()
    bad = happened([Heard(text="x", outcome="refused", statements=({"word": "\ud800"},))])
    with pytest.raises(DictateError):
        write_json(record_of(case(), bad), exported)
    assert exported.read_bytes() == before
    assert len(list(exported.parent.iterdir())) == 1


def test_a_folder_that_is_not_there_is_named_in_a_sentence(tmp_path):
    with pytest.raises(DictateError, match=r"mila\.json could not be written \(No such file"):
        write_json(record_of(case(), []), tmp_path / "nowhere" / "mila.json")


def test_unseen_characters_stand_as_escapes_and_come_back(tmp_path):
    events = happened([Heard(text="one\u202eoh four\x85", outcome="refused")])
    write_json(record_of(case(), events), tmp_path / "record.json")
    assert "\u202e" not in (tmp_path / "record.json").read_text()
    assert read_json(tmp_path / "record.json").events[1].what.text == "one\u202eoh four\x85"


def test_a_finding_that_no_event_charts_is_named(exported):
    extra = {"tooth": 208, "kind": "mobility", "value": 3, "unit": None, "site": None}
    altered(exported, lambda data: data["findings"].append(extra))
    assert "lists mobility 3 on 208, but its events do not" in complaint(exported)


def test_a_finding_that_was_removed_is_named(exported):
    altered(exported, lambda data: data["findings"].pop(0))
    assert "its events chart calculus 2 on 108, but its findings do not" in complaint(exported)


def test_a_grade_changed_by_hand_is_noticed(exported):
    altered(exported, lambda data: data["findings"][0].update(value=1))
    assert "calculus 1 on 108" in complaint(exported)


def test_a_tooth_called_charted_by_hand_is_noticed(exported):
    altered(exported, lambda data: data["teeth"][0].update(state="charted"))
    assert "it calls tooth 110 (right maxillary second molar) charted" in complaint(exported)


def test_a_missing_line_of_teeth_is_noticed(exported):
    altered(exported, lambda data: data["teeth"].pop())
    assert "42 teeth" in complaint(exported)


def test_a_gap_in_the_events_is_noticed(exported):
    altered(exported, lambda data: data["events"].pop(3))
    assert "event 4 is numbered 5" in complaint(exported)


def test_a_newer_version_asks_for_a_newer_program(exported):
    altered(exported, lambda data: data.update(version=4, novelty=True))
    assert complaint(exported) == (
        "record.json: this record has format version 4 and this dictate reads up to 3: "
        "open it with a newer dictate."
    )


@pytest.mark.parametrize(
    ("finding", "why"),
    [
        ({"tooth": 205, "kind": "calculus", "value": 1}, "A cat has no 205"),
        ({"tooth": 104, "kind": "calculus", "value": 4}, "Calculus index takes 0 to 3"),
        ({"tooth": 104, "kind": "furcation", "value": 1}, "104 has one root"),
        ({"tooth": 107, "kind": "pocket", "value": 99, "unit": "mm"}, "Probing depth takes"),
    ],
)
def test_an_impossible_fact_is_refused_however_consistent_the_file(tmp_path, finding, why):
    events = happened([charted(Finding(**finding))])
    write_json(record_of(case("cat", 3), events), tmp_path / "record.json")
    assert f"event 2 cannot be true: {why}" in complaint(tmp_path / "record.json")


def test_a_kind_of_finding_that_there_is_not_is_refused(exported):
    exported.write_text(exported.read_text().replace('"calculus"', '"halitosis"'))
    assert "event 3 cannot be true: There is no finding called halitosis" in complaint(exported)


def test_a_cat_is_not_asked_about_its_205(tmp_path):
    events = happened([ToothChosen(tooth=205)])
    write_json(record_of(case("cat"), events), tmp_path / "record.json")
    assert "A cat has no 205." in complaint(tmp_path / "record.json")


def test_a_missing_tooth_with_a_pocket_is_refused(tmp_path):
    missing = Finding(tooth=108, kind="missing")
    events = happened([charted(missing)], [charted(depth(108, 5, "mesial"))])
    write_json(record_of(case(), events), tmp_path / "record.json")
    assert "108 is charted missing" in complaint(tmp_path / "record.json")


@pytest.mark.parametrize(
    ("standing", "found"),
    [
        (Finding(tooth=108, kind="normal"), CALCULUS),
        (Finding(tooth=108, kind="normal"), Finding(tooth=108, kind="missing")),
        (
            Finding(tooth=108, kind="radiographed", value="normal"),
            Finding(tooth=108, kind="unerupted"),
        ),
    ],
)
def test_a_tooth_charted_normal_with_a_finding_is_refused(tmp_path, standing, found):
    path = tmp_path / "record.json"
    write_json(record_of(case(), happened([charted(standing)], [charted(found)])), path)
    with pytest.raises(DictateError, match=r"normal stands, so .* cannot\."):
        read_json(path)
    replaced = happened([charted(standing)], [charted(found, replaced=(standing,))])
    write_json(record_of(case(), replaced), path)
    assert read_json(path).findings == (found,)


def test_a_kind_of_observation_that_there_is_not_is_refused(exported):
    def change(data):
        data["observations"] = [{"kind": "tail\n", "value": None}]

    with pytest.raises(DictateError, match=r"it lists 'tail\\n', but its events do not\.$"):
        read_json(altered(exported, change))


LONG = "x\ny\x1b" + 6000 * "z"


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data["findings"][0].update(site=LONG),
        lambda data: data["events"][2]["what"]["findings"][0].update(kind=LONG),
        lambda data: data["teeth"][0].update(name=LONG),
        lambda data: data["case"].update({LONG: 1}),
    ],
)
def test_whatever_a_record_says_it_is_refused_in_one_line_that_can_be_read(exported, change):
    why = complaint(altered(exported, change))
    assert why.isprintable()
    assert len(why) <= 400
    assert "…" in why
    assert why.endswith(".")


def test_a_pocket_may_follow_when_missing_was_taken_back(tmp_path):
    missing = Finding(tooth=108, kind="missing")
    events = happened([charted(missing)], [Undone(of=1)], [charted(depth(108, 5, "mesial"))])
    write_json(record_of(case(), events), tmp_path / "record.json")
    assert read_json(tmp_path / "record.json").findings == (depth(108, 5, "mesial"),)


def test_a_time_without_a_zone_is_refused(exported):
    altered(exported, lambda data: data["events"][1].update(time="2026-05-04T10:00:00"))
    assert "events > 1 > time does not fit: Input should have timezone info" in complaint(exported)


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "{", '{"format": "other"}', "[" * 100_000, "\x00", '{"format": NaN}'],
)
def test_a_file_that_is_no_record_is_called_that(tmp_path, text):
    (tmp_path / "notes.json").write_text(text)
    assert complaint(tmp_path / "notes.json").startswith("notes.json")


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999"])
def test_what_is_no_number_is_no_depth(exported, number):
    exported.write_text(exported.read_text().replace('"value": 5', f'"value": {number}'))
    assert "not a JSON file, or is damaged" in complaint(exported)


def test_a_tooth_number_must_be_a_number(exported):
    altered(exported, lambda data: data["events"][1]["what"].update(tooth="108"))
    assert "events > 1 > what > tooth > tooth does not fit" in complaint(exported)


def test_bytes_that_are_no_text_are_no_record(tmp_path):
    (tmp_path / "photo.json").write_bytes(b"\xff\xd8\xff")
    assert "not a JSON file" in complaint(tmp_path / "photo.json")


def test_the_published_schema_is_that_of_the_record():
    assert SCHEMA.read_text() == schema_text(), (
        "docs/record.schema.json is out of date: "
        "python -m dictate.report.record docs/record.schema.json"
    )


def test_the_schema_names_what_a_record_always_has():
    schema = json.loads(schema_text())
    assert set(schema["required"]) == {
        *(
            "format",
            "version",
            "digest",
            "case",
            "events",
            "hashes",
            "dentition",
            "findings",
            "teeth",
        ),
        *("observations", "notes", "decisions", "assessment"),
    }


@st.composite
def findings_for(draw, species):
    anatomy = anatomy_of(species)
    tooth = draw(st.sampled_from((*anatomy.permanent_teeth, *anatomy.deciduous_teeth)))
    row = draw(st.sampled_from(list(finding_kinds().values())))
    value = {
        "none": st.none(),
        "term": st.sampled_from([*row.terms, None]),
        "grade": st.integers(0, 4),
        "percent": st.integers(0, 100),
        "length": st.integers(0, 20) | st.sampled_from([0.5, 1.5, 2.5]),
    }[row.value]
    site = draw(st.sampled_from(SITES)) if row.sited else None
    return Finding(tooth=tooth, kind=row.kind, value=draw(value), unit=row.unit, site=site)


@st.composite
def examinations(draw):
    """Any run of utterances that the rules let through, with steps back and forth."""
    here = case(draw(st.sampled_from(SPECIES)), draw(st.sampled_from([3, 4])))
    blank = Chart(species=here.species, index_scale=here.index_scale)
    utterances = []
    for _ in range(draw(st.integers(0, 25))):
        chart = fold(blank, happened(*utterances))
        step = draw(st.sampled_from(["finding", "finding", "tooth", "skip", "undo", "redo"]))
        finding = draw(findings_for(here.species))
        match step:
            case "tooth":
                utterances.append([ToothChosen(tooth=finding.tooth)])
            case "skip":
                utterances.append([Skipped(tooth=finding.tooth)])
            case "undo":
                utterances.append([Undone(of=1)])
            case "redo":
                utterances.append([Redone(of=1)])
            case "finding":
                objection = objection_to_finding(chart, finding)
                if objection is None or objection.verdict == "ask":
                    replaced = displaced_by(chart, finding)
                    utterances.append([charted(finding, replaced=replaced)])
    return here, happened(*utterances)


@settings(max_examples=60, deadline=None)
@given(examination=examinations())
def test_any_examination_comes_back_from_its_file_with_the_same_chart(
    tmp_path_factory, examination
):
    here, events = examination
    path = tmp_path_factory.mktemp("export") / "record.json"
    write_json(record_of(here, events), path)
    blank = Chart(species=here.species, index_scale=here.index_scale)
    assert read_json(path).chart == fold(blank, events)
