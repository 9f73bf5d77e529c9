"""The chain of hashes, the seal, verification and addenda."""

import hashlib
import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.events import Closed, Event, Heard, Skipped, ToothChosen
from dictate.errors import DictateError
from dictate.integrity.addenda import addenda
from dictate.integrity.chain import case_hash, hashes_of, head_of, next_hash
from dictate.integrity.seal import KEY_FILE, fingerprint, own_key, signer
from dictate.integrity.verify import verify
from tests.screen_pilot import OPENED, session_of

PHRASES = ["208 calculus 2 pocket 5 mesial", "209 missing", "left tonsil enlarged", "note: calm"]


def closed_session(folder, phrases=PHRASES):
    moments = iter(OPENED + timedelta(seconds=n) for n in range(10_000))
    session = session_of(phrases=phrases, sign=signer(folder), now=lambda: next(moments))
    session.type_text("close the chart")
    session.type_text("yes")
    assert session.chart.closed
    return session


def checked(session, events=None):
    """Check altered events against the hashes of those that were charted."""
    stated = list(hashes_of(session.case, session.events))
    events = session.events if events is None else events
    return verify(session.case, events, stated[: len(events)])


def test_the_hash_is_sha_256_of_the_hash_before_and_the_event_as_sorted_json():
    """FIPS 180-4 (SHA-256), by the standard library; the text is written out here by hand."""
    session = session_of()
    before = case_hash(session.case)
    event = Event(sequence=1, utterance=1, time=OPENED, what=ToothChosen(tooth=208))
    text = (
        '{"sequence":1,"time":"2026-05-04T08:02:00Z","utterance":1,'
        '"what":{"event":"tooth","tooth":208}}'
    )
    expected = hashlib.sha256(f"{before}\n{text}".encode()).hexdigest()
    assert next_hash(before, event) == expected
    skipped = event.model_copy(update={"what": Skipped(tooth=208)})
    assert next_hash(before, skipped) != expected


def test_an_untouched_case_is_sound_and_its_seal_genuine(tmp_path):
    session = closed_session(tmp_path)
    found = checked(session)
    assert found.troubles == ()
    assert [each.number for each in found.seals] == [len(session.events)]
    assert found.unsealed == 0
    assert found.seals[0].key == fingerprint(own_key(tmp_path))
    assert found.head == head_of(session.case, session.events)


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_an_event_that_is_changed_left_out_or_moved_is_found_and_named(tmp_path_factory, data):
    session = closed_session(tmp_path_factory.mktemp("key"))
    events = list(session.events)
    place = data.draw(st.integers(0, len(events) - 1))
    match data.draw(st.sampled_from(["time", "left out", "moved", "doubled"])):
        case "time":
            later = events[place].time + timedelta(seconds=1)
            events[place] = events[place].model_copy(update={"time": later})
        case "left out":
            del events[place]
        case "moved":
            other = data.draw(st.integers(0, len(events) - 1).filter(lambda n: n != place))
            events[place], events[other] = events[other], events[place]
        case "doubled":
            events.insert(place, events[place])
    stated = list(hashes_of(session.case, session.events))
    stated += [stated[-1]] * (len(events) - len(stated))
    was_last = place == len(session.events) - 1 and len(events) < len(session.events)
    found = verify(session.case, events, stated[: len(events)])
    if was_last:
        assert found.seals == ()
    else:
        assert found.troubles
        assert any(f"event {number} " in found.troubles[0] for number in range(1, len(events) + 1))


def test_the_first_altered_event_is_named():
    session = session_of(phrases=PHRASES, now=lambda: OPENED)
    events = list(session.events)
    place = next(n for n, each in enumerate(events) if each.sequence == 3)
    heard = Heard(text="208 pocket 3 mesial", outcome="charted")
    events[place] = events[place].model_copy(update={"what": heard})
    found = checked(session, events)
    assert found.troubles[0].startswith("event 3 (heard “208 pocket 3 mesial”, 04 May 2026")


def test_a_forger_who_makes_the_whole_chain_anew_is_given_away_by_the_seal(tmp_path):
    session = closed_session(tmp_path)
    events = [
        each.model_copy(update={"what": Heard(text="nothing", outcome="refused")})
        if each.sequence == 1
        else each
        for each in session.events
    ]
    found = verify(session.case, events, list(hashes_of(session.case, events)))
    assert "is not what was sealed" in found.troubles[0]


@pytest.mark.parametrize("change", ["by", "time", "head", "signature", "key"])
def test_a_seal_with_anything_changed_is_false(tmp_path, change):
    session = closed_session(tmp_path)
    *others, last = session.events
    seal = last.what.seal
    match change:
        case "by":
            what = Closed(by="Dr. Nobody", seal=seal)
            last = last.model_copy(update={"what": what})
        case "time":
            last = last.model_copy(update={"time": last.time + timedelta(microseconds=1)})
        case field:
            text = getattr(seal, field)
            wrong = ("0" if text[0] != "0" else "1") + text[1:]
            changed = seal.model_copy(update={field: wrong})
            last = last.model_copy(update={"what": Closed(by=last.what.by, seal=changed)})
    events = (*others, last)
    found = verify(session.case, events, list(hashes_of(session.case, events)))
    assert f"the seal of event {last.sequence} is false" in found.troubles[0]
    assert found.seals == ()


def test_another_case_is_not_taken_for_this_one(tmp_path):
    session = closed_session(tmp_path)
    other = session.case.model_copy(update={"animal": "Bruno"})
    found = verify(other, session.events, list(hashes_of(session.case, session.events)))
    assert found.troubles


def test_what_older_versions_kept_without_hashes_is_not_called_altered():
    session = session_of(phrases=PHRASES)
    found = verify(session.case, session.events, [None] * len(session.events))
    assert found.troubles == () and found.seals == ()


def test_the_key_is_made_once_and_read_by_its_owner_alone(tmp_path):
    first = closed_session(tmp_path).events[-1].what.seal
    second = closed_session(tmp_path).events[-1].what.seal
    assert first.key == second.key == own_key(tmp_path)
    assert (tmp_path / KEY_FILE).stat().st_mode & 0o777 == 0o600
    assert [each.name for each in tmp_path.iterdir()] == [KEY_FILE]


def test_a_damaged_key_is_said_and_nothing_is_closed(tmp_path):
    (tmp_path / KEY_FILE).write_bytes(b"too short")
    session = session_of(phrases=PHRASES, sign=signer(tmp_path))
    session.type_text("close the chart")
    with pytest.raises(DictateError, match="is damaged"):
        session.type_text("yes")
    assert not session.chart.closed and len(session.doubts) == 1


def test_the_signature_is_ed25519_as_another_reading_of_the_standard_has_it(tmp_path):
    """RFC 8032, section 5.1: a signature is 64 bytes, a public key 32; checked with the library's
    own verification over the message written out here."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    time = datetime(2026, 5, 4, 10, 2, tzinfo=UTC)
    seal = signer(tmp_path)("ab" * 32, "Dr. Ada Lind", time)
    message = "dictate seal 1\n" + "ab" * 32 + "\nDr. Ada Lind\n2026-05-04T10:02:00.000000+00:00"
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(seal.key))
    key.verify(bytes.fromhex(seal.signature), message.encode())
    assert len(bytes.fromhex(seal.signature)) == 64 and len(bytes.fromhex(seal.key)) == 32


def test_addenda_show_before_and_after(tmp_path):
    session = closed_session(tmp_path)
    session.type_text("open the chart again")
    session.type_text("change 208 pocket to 6")
    session.type_text("not missing 209")
    session.type_text("209 not missing")
    session.type_text("104 CCF")
    (addendum,) = addenda(session.case, session.events)
    assert addendum.closed is None and addendum.by is None
    assert {(each.before, each.after) for each in addendum.changes} == {
        ("208 pocket 5 mm mesial", "208 pocket 6 mm mesial"),
        ("209 missing", None),
        (None, "104 fracture CCF"),
    }
    session.type_text("close the chart")
    session.type_text("yes")
    (addendum,) = addenda(session.case, session.events)
    assert addendum.closed is not None and addendum.by == ""
    assert len(checked(session).seals) == 2


def test_nothing_is_charted_noted_decided_or_undone_in_a_closed_chart(tmp_path):
    session = closed_session(tmp_path)
    before = session.chart
    for phrase in ("208 calculus 3", "undo", "redo", "note: late", "take a note", "skip",
                   "clear 208", "mixed dentition", "correction pocket four"):  # fmt: skip
        assert session.type_text(phrase).outcome == "refused", phrase
        assert session.chart == before
    session.decide((208,), "clean", "accepted", "cleaning")
    assert session.chart == before
    assert session.edit(before.findings[0], "").outcome == "refused"
    assert session.type_text("104").outcome == "charted"
    assert session.type_text("go to treatment").outcome == "charted"
    assert session.chart.findings == before.findings


def test_the_event_model_gives_the_same_hash_after_a_round_trip():
    session = session_of(phrases=PHRASES)
    again = [Event.model_validate(json.loads(each.model_dump_json())) for each in session.events]
    assert head_of(session.case, again) == head_of(session.case, session.events)
