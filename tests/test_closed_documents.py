"""A record that was closed, opened again and closed: seals and addenda on page and paper."""

import pytest

from dictate.documents.printed_record import record_pdf
from dictate.integrity.seal import fingerprint, own_key, signer
from dictate.report.page import html_page
from dictate.report.record import read_json, record_of, write_json
from tests.documents import text_of
from tests.screen_pilot import session_of


@pytest.fixture
def closed_twice(tmp_path):
    session = session_of(phrases=["208 pocket 5 mesial"], sign=signer(tmp_path))
    for phrase in ("close the chart", "yes", "open the chart again", "change 208 pocket to 6",
                   "104 CCF", "close the chart", "yes"):  # fmt: skip
        session.type_text(phrase)
    return record_of(session.case, session.events), fingerprint(own_key(tmp_path))


def test_addenda_stand_in_the_printed_record_before_and_after(closed_twice):
    record, key = closed_twice
    text = text_of(record_pdf(record))
    for words in ("Addendum 1: opened on", "closed again on", "208 pocket 5 mm mesial",
                  "208 pocket 6 mm mesial", "nothing 104 fracture CCF", "Closed as final on",
                  f"with the key {key}", record.content_hash):  # fmt: skip
        assert words in text, words


def test_addenda_stand_on_the_page_before_and_after(closed_twice):
    record, key = closed_twice
    page = html_page(record)
    assert "<bdi>208 pocket 5 mm mesial</bdi></td><td><bdi>208 pocket 6 mm mesial</bdi>" in page
    assert page.count(f"with the key {key}") == 2


def test_a_closed_record_comes_back_with_its_seals(closed_twice, tmp_path):
    record, _ = closed_twice
    write_json(record, tmp_path / "record.json")
    assert read_json(tmp_path / "record.json").events == record.events


def test_a_record_that_was_never_closed_has_neither():
    session = session_of(phrases=["208 pocket 5 mesial"])
    record = record_of(session.case, session.events)
    assert "Addend" not in html_page(record) and "Sealed" not in text_of(record_pdf(record))
