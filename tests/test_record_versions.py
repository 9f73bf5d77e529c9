"""What a record holds beside findings and teeth, and how one of version 1 is read."""

import hashlib
import json
import re
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.events import Noted
from dictate.errors import DictateError
from dictate.grammar.spoken import spoken_languages
from dictate.report.record import read_json, record_of, write_json
from dictate.session.session import Session

OPENED = datetime(2026, 5, 4, 8, 2, tzinfo=UTC)

VISIT = (
    "go to awake examination",
    "left lymph node enlarged",
    "head examination normal",
    "go to soft tissue",
    "mass left cheek 5 by 7 mm pink",
    "go to charting",
    "208 pocket 6 mesial furcation 2",
    "104 calculus 2 gingivitis 1",
    "go to radiographs",
    "208 horizontal bone loss 30%",
    "full mouth radiographs",
    "go to treatment",
    "208 surgical extraction sutured",
    "left infraorbital block bupivacaine 0.5 ml",
    "note: check again",
)

STEPS = (
    "undo",
    "redo",
    "confirm",
    "reject",
    "left lymph node normal",
    "left lymph node painful",
    "correction left lymph node enlarged",
    "chin swollen",
    "deciduous dentition",
    "mixed dentition",
    "201 to 203 calculus 1",
    "all upper left scaled",
    "208 missing",
    "correction 207",
    "604 mobility 1",
    "clear 208",
)

VERSION_1 = """
{
  "format": "dictate-record",
  "version": 1,
  "case": {"id": "mila-1", "species": "cat", "opened": "2026-05-04T08:02:00Z", "animal": "Mila",
    "clinician": "", "index_scale": 3},
  "events": [
    {"sequence": 1, "utterance": 1, "time": "2026-05-04T08:02:00Z", "what": {"event": "heard",
      "text": "one oh seven resorption two", "outcome": "charted", "reason": null, "rule": null,
      "statements": [], "file": null, "start_s": null, "end_s": null, "engine": "sphinx",
      "score": 0.9}},
    {"sequence": 2, "utterance": 1, "time": "2026-05-04T08:02:01Z",
      "what": {"event": "tooth", "tooth": 107}},
    {"sequence": 3, "utterance": 1, "time": "2026-05-04T08:02:02Z", "what": {"event": "charted",
      "findings": [{"tooth": 107, "kind": "resorption", "value": 2, "unit": null, "site": null}],
      "replaced": []}},
    {"sequence": 4, "utterance": 4, "time": "2026-05-04T08:02:03Z", "what": {"event": "heard",
      "text": "skip", "outcome": "charted", "reason": null, "rule": null, "statements": [],
      "file": null, "start_s": null, "end_s": null, "engine": "keyboard", "score": null}},
    {"sequence": 5, "utterance": 4, "time": "2026-05-04T08:02:04Z",
      "what": {"event": "skipped", "tooth": 106}},
    {"sequence": 6, "utterance": 6, "time": "2026-05-04T08:02:05Z", "what": {"event": "heard",
      "text": "504 mobility 2", "outcome": "charted", "reason": null, "rule": null,
      "statements": [], "file": null, "start_s": null, "end_s": null, "engine": "keyboard",
      "score": null}},
    {"sequence": 7, "utterance": 6, "time": "2026-05-04T08:02:06Z", "what": {"event": "charted",
      "findings": [{"tooth": 504, "kind": "mobility", "value": 2, "unit": null, "site": null}],
      "replaced": []}}
  ],
  "findings": [
    {"tooth": 107, "kind": "resorption", "value": 2, "unit": null, "site": null},
    {"tooth": 504, "kind": "mobility", "value": 2, "unit": null, "site": null}
  ],
  "teeth": [
    {"tooth": 109, "name": "right maxillary first molar", "state": "not charted"},
    {"tooth": 108, "name": "right maxillary fourth premolar", "state": "not charted"},
    {"tooth": 107, "name": "right maxillary third premolar", "state": "charted"},
    {"tooth": 106, "name": "right maxillary second premolar", "state": "skipped"},
    {"tooth": 104, "name": "right maxillary canine", "state": "not charted"},
    {"tooth": 103, "name": "right maxillary third incisor", "state": "not charted"},
    {"tooth": 102, "name": "right maxillary second incisor", "state": "not charted"},
    {"tooth": 101, "name": "right maxillary first incisor", "state": "not charted"},
    {"tooth": 201, "name": "left maxillary first incisor", "state": "not charted"},
    {"tooth": 202, "name": "left maxillary second incisor", "state": "not charted"},
    {"tooth": 203, "name": "left maxillary third incisor", "state": "not charted"},
    {"tooth": 204, "name": "left maxillary canine", "state": "not charted"},
    {"tooth": 206, "name": "left maxillary second premolar", "state": "not charted"},
    {"tooth": 207, "name": "left maxillary third premolar", "state": "not charted"},
    {"tooth": 208, "name": "left maxillary fourth premolar", "state": "not charted"},
    {"tooth": 209, "name": "left maxillary first molar", "state": "not charted"},
    {"tooth": 309, "name": "left mandibular first molar", "state": "not charted"},
    {"tooth": 308, "name": "left mandibular fourth premolar", "state": "not charted"},
    {"tooth": 307, "name": "left mandibular third premolar", "state": "not charted"},
    {"tooth": 304, "name": "left mandibular canine", "state": "not charted"},
    {"tooth": 303, "name": "left mandibular third incisor", "state": "not charted"},
    {"tooth": 302, "name": "left mandibular second incisor", "state": "not charted"},
    {"tooth": 301, "name": "left mandibular first incisor", "state": "not charted"},
    {"tooth": 401, "name": "right mandibular first incisor", "state": "not charted"},
    {"tooth": 402, "name": "right mandibular second incisor", "state": "not charted"},
    {"tooth": 403, "name": "right mandibular third incisor", "state": "not charted"},
    {"tooth": 404, "name": "right mandibular canine", "state": "not charted"},
    {"tooth": 407, "name": "right mandibular third premolar", "state": "not charted"},
    {"tooth": 408, "name": "right mandibular fourth premolar", "state": "not charted"},
    {"tooth": 409, "name": "right mandibular first molar", "state": "not charted"},
    {"tooth": 504, "name": "right maxillary deciduous canine", "state": "charted"}
  ]
}
"""


def visit(*said, **of):
    """A session in which every phrase was typed and charted."""
    case = Case(**{"id": "mila-1", "species": "dog", "opened": OPENED, "animal": "Mila"} | of)
    session = Session(case, spoken_languages(), now=lambda: OPENED)
    for phrase in said:
        heard = session.type_text(phrase)
        assert heard.outcome == "charted", (phrase, heard)
    return session


@pytest.fixture(scope="module")
def whole_visit():
    session = visit(*VISIT)
    session.decide([208], "open_root_planing", "accepted", "Extraction")
    return record_of(session.case, session.events)


@pytest.fixture
def exported(tmp_path, whole_visit):
    write_json(whole_visit, tmp_path / "record.json")
    return tmp_path / "record.json"


def changed(path, change):
    data = json.loads(path.read_text())
    change(data)
    path.write_text(json.dumps(data))
    return path


def last_event(path, **what):
    """Put something in the place of what happened last."""
    return changed(path, lambda data: data["events"][-1].update(what=what))


def complaint(path):
    with pytest.raises(DictateError) as raised:
        read_json(path)
    return str(raised.value)


def observation(kind, **more):
    return {"kind": kind, "value": None, "place": None, **more}


def test_a_record_of_a_whole_visit_comes_back_as_it_was(exported, whole_visit):
    assert read_json(exported) == whole_visit


def test_it_says_of_each_observation_whether_it_was_stated_or_covered(whole_visit):
    nodes = {
        each.place: (each.value, each.covered)
        for each in whole_visit.observations
        if each.kind == "lymph_node"
    }
    assert nodes == {"left": ("enlarged", False), "right": ("normal", True)}


def test_it_keeps_notes_and_decisions(whole_visit):
    assert [(note.text, note.verified) for note in whole_visit.notes] == [("check again", True)]
    assert [(each.tooth, each.decision) for each in whole_visit.decisions] == [(208, "accepted")]


def test_it_keeps_the_stages_with_their_reasons(whole_visit):
    """A stage 2 furcation is PD3. Source: AVDC nomenclature, Periodontal Disease."""
    stage = next(each for each in whole_visit.assessment.stages if each.tooth == 208)
    assert (stage.stage, stage.percent) == (3, 30)
    assert "Stage 2 furcation." in stage.reasons


def test_a_stage_that_may_be_graver_says_what_is_missing(whole_visit):
    stage = next(each for each in whole_visit.assessment.stages if each.tooth == 104)
    assert stage.provisional
    assert stage.missing


def test_a_decided_proposal_has_its_state_and_the_plan_its_step(whole_visit):
    proposal = next(
        each for each in whole_visit.assessment.proposals if each.rule == "open_root_planing"
    )
    assert (proposal.state, proposal.decided) == ("accepted", "Extraction")
    assert [(step.tooth, step.text) for step in whole_visit.assessment.plan] == [
        (208, "Extraction")
    ]


def test_it_says_what_is_left_and_is_not_complete_before(whole_visit):
    left = whole_visit.assessment.left
    assert not left.complete
    assert 110 in left.not_examined
    assert left.sentence.startswith("Left:")


def test_index_means_have_their_scale_and_the_number_of_teeth(whole_visit):
    means = {each.kind: each for each in whole_visit.assessment.index_means}
    calculus = means["calculus"]
    assert (calculus.mean, calculus.n, calculus.scale) == (2, 1, 4)
    assert means["plaque"].mean is None


def test_the_dentition_that_was_stated_in_the_visit_is_recorded():
    session = visit("deciduous dentition")
    assert record_of(session.case, session.events).dentition == "deciduous"


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda data: data.update(dentition="mixed"), "states a mixed dentition"),
        (
            lambda data: data["observations"][0].update(value="painful"),
            "lists left mandibular lymph node painful (stated), but its events do not",
        ),
        (
            lambda data: data["observations"][1].update(covered=False),
            "(stated), but its events do not",
        ),
        (lambda data: data["observations"].pop(0), "but its observations do not"),
        (lambda data: data["observations"].reverse(), "observations are not in the order"),
        (lambda data: data["notes"][0].update(text="all well"), "lists the note “all well”"),
        (lambda data: data["notes"].clear(), "but its notes do not"),
        (
            lambda data: data["decisions"][0].update(decision="dismissed"),
            "lists open root planing as dismissed on 208",
        ),
        (
            lambda data: data["assessment"]["stages"][0].update(stage=0),
            "its assessment (stages) is not what follows",
        ),
        (
            lambda data: data["assessment"]["stages"][0].update(provisional=False),
            "its assessment (stages) is not what follows",
        ),
        (
            lambda data: data["assessment"]["left"].update(complete=True),
            "its assessment (left) is not what follows",
        ),
        (
            lambda data: data["assessment"]["index_means"][0].update(mean=0.5),
            "its assessment (index means) is not what follows",
        ),
        (lambda data: data["assessment"]["plan"].clear(), "its assessment (plan) is not"),
        (lambda data: data["assessment"]["proposals"].pop(), "its assessment (proposals) is not"),
    ],
)
def test_what_the_events_do_not_bear_out_is_named(exported, change, why):
    assert why in complaint(changed(exported, change))


def test_an_assessment_by_other_rules_is_worked_out_anew_and_never_trusted(exported, whole_visit):
    def by_other_rules(data):
        data["assessment"]["rules"] = "0" * 16
        data["assessment"]["stages"][0]["stage"] = 0

    path = changed(exported, by_other_rules)
    text = re.sub('"digest": "[0-9a-f]*"', '"digest": ""', path.read_text())
    digest = hashlib.sha256(text.encode()).hexdigest()
    path.write_text(text.replace('"digest": ""', f'"digest": "{digest}"', 1))
    assert read_json(path) == whole_visit


def test_a_record_of_version_2_is_read_and_brought_up_to_date(exported, whole_visit):
    """Version 2 had neither digest nor hashes; all else was the same."""

    def older(data):
        del data["digest"], data["hashes"]
        data["version"] = 2

    assert read_json(changed(exported, older)) == whole_visit


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_one_byte_altered_anywhere_is_caught(exported, data):
    whole = exported.read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda each: each != whole[place]))
    exported.write_bytes(whole[:place] + bytes([byte]) + whole[place + 1 :])
    try:
        with pytest.raises(DictateError):
            read_json(exported)
    finally:
        exported.write_bytes(whole)


def test_a_hash_that_was_left_out_or_changed_is_named(exported):
    changed(exported, lambda data: data["hashes"].pop())
    with pytest.raises(DictateError, match="some are missing"):
        read_json(exported)


def test_an_event_altered_with_all_that_follows_is_named(exported):
    def later(data):
        data["events"][4]["time"] = "2027-01-01T00:00:00Z"

    with pytest.raises(DictateError, match=r"event 5 \(.*\) is not as it was kept"):
        read_json(changed(exported, later))


@pytest.mark.parametrize(
    ("seen", "why"),
    [
        (observation("halitosis"), "There is no observation called halitosis."),
        (observation("chin", value="blue"), "Chin takes one of normal"),
        (observation("eye", value="red"), "Eye: say where."),
        (observation("mass", place="left_ear"), "Mass has no place called left ear."),
        (observation("mass", place="tongue", size_mm=[4000]), "A size is one or two lengths"),
        (observation("mass", place="tongue", tooth=112), "A dog has no 112."),
        (observation("block", value="mental", place="left", volume_ml=400), "A volume is above 0"),
        (observation("chin", value="swollen", covered=True), "does not cover chin swollen"),
        (
            observation("lymph_node", value="normal", place="left"),
            "left mandibular lymph node enlarged stands, so",
        ),
    ],
)
def test_an_impossible_observation_is_refused(exported, seen, why):
    last_event(exported, event="observed", observations=[seen], replaced=[])
    assert why in complaint(exported)


def test_an_observation_that_was_put_right_is_read_back(tmp_path):
    session = visit(*VISIT, "go to awake examination", "correction left lymph node painful")
    record = record_of(session.case, session.events)
    write_json(record, tmp_path / "record.json")
    assert read_json(tmp_path / "record.json") == record


def test_an_unknown_observation_cannot_have_been_replaced(exported):
    gone = observation("halitosis")
    last_event(exported, event="observed", observations=[], replaced=[gone])
    assert "There is no observation called halitosis." in complaint(exported)


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ({"event": "teeth", "teeth": [208, 212]}, "A dog has no 212."),
        ({"event": "teeth", "teeth": []}, "does not fit"),
        ({"event": "context", "context": "lunch"}, "does not fit"),
        ({"event": "dentition", "dentition": "milk"}, "does not fit"),
        ({"event": "noted", "text": "x", "tooth": 212}, "A dog has no 212."),
        (
            {"event": "decided", "tooth": 212, "rule": "clean", "decision": "accepted"},
            "A dog has no 212.",
        ),
        (
            {"event": "decided", "tooth": 208, "rule": "polish_the_bell", "decision": "accepted"},
            "There is no rule called polish_the_bell that proposes.",
        ),
        (
            {"event": "decided", "tooth": 208, "rule": "clean", "decision": "perhaps"},
            "does not fit",
        ),
    ],
)
def test_what_cannot_have_happened_is_refused(exported, what, why):
    assert why in complaint(last_event(exported, **what))


@settings(max_examples=40, deadline=None)
@given(said=st.lists(st.sampled_from((*VISIT, *STEPS)), max_size=30))
def test_any_visit_that_a_session_takes_is_read_back(tmp_path_factory, said):
    session = visit()
    for phrase in said:
        session.type_text(phrase)
    path = tmp_path_factory.mktemp("export") / "record.json"
    write_json(record_of(session.case, session.events), path)
    assert read_json(path) == record_of(session.case, session.events)
    assert read_json(path).chart == session.chart


def test_a_spoken_note_comes_back_with_its_clip_and_unverified(tmp_path):
    session = visit("note: check again")
    note = Noted(text="check a gain", clip=f"{session.case.id}-1.flac")
    events = [session.events[0], session.events[1].model_copy(update={"what": note})]
    write_json(record_of(session.case, events), tmp_path / "record.json")
    assert read_json(tmp_path / "record.json").notes == (note,)


def test_a_record_of_version_1_is_read_and_brought_up_to_date(tmp_path):
    (tmp_path / "old.json").write_text(VERSION_1)
    record = read_json(tmp_path / "old.json")
    assert record.version == 3
    assert [(each.tooth, each.kind) for each in record.findings] == [
        (107, "resorption"),
        (504, "mobility"),
    ]
    assert (record.dentition, record.observations, record.notes) == ("permanent", (), ())
    assert any(each.tooth == 107 for each in record.assessment.proposals)


def test_a_record_of_version_1_can_be_written_again_as_version_3(tmp_path):
    (tmp_path / "old.json").write_text(VERSION_1)
    record = read_json(tmp_path / "old.json")
    write_json(record, tmp_path / "new.json")
    assert json.loads((tmp_path / "new.json").read_text())["version"] == 3
    assert read_json(tmp_path / "new.json") == record


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda data: data["findings"].pop(), "but its findings do not"),
        (lambda data: data["teeth"][0].update(state="charted"), "it calls tooth 109"),
        (lambda data: data["events"].pop(3), "event 4 is numbered 5"),
        (lambda data: data["events"][1]["what"].update(tooth=205), "A cat has no 205."),
        (lambda data: data.update(observations=[]), "observations does not fit"),
        (lambda data: data.update(version=True), "not a record of dictate"),
        (lambda data: data.update(version=0), "version does not fit"),
    ],
)
def test_a_record_of_version_1_is_trusted_no_more_than_one_of_version_2(tmp_path, change, why):
    (tmp_path / "old.json").write_text(VERSION_1)
    assert why in complaint(changed(tmp_path / "old.json", change))
