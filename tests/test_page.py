import json
from datetime import UTC, datetime, timedelta, timezone
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dictate.chart.case import Case
from dictate.chart.events import Charted, Event, Heard, Settled, Skipped, Undone
from dictate.chart.finding import Finding
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.report.page import html_page, moment
from dictate.report.record import read_json, record_of

OPENED = datetime(2026, 5, 4, 10, 2, tzinfo=timezone(timedelta(hours=2)))
GENERATED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CALCULUS = Finding(tooth=108, kind="calculus", value=2)
HOSTILE = '</td><script>alert(1)</script><img src=x onerror="x">\x1b[31m\u202e{{ 7*7 }}'
VOID = {"meta", "col", "br", "img"}


class Page(HTMLParser):
    """A page as its reader gets it: its tags, and the text of every part that has an id."""

    def __init__(self, markup):
        super().__init__()
        self.tags, self.attributes, self.open = [], [], []
        self.parts, self.unbalanced = {"": ""}, []
        self.feed(markup)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append((tag, dict(attrs).get("id")))

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        opened, _ = self.open.pop()
        if opened != tag:
            self.unbalanced.append(tag)

    def handle_data(self, data):
        if any(tag in ("style", "title") for tag, _ in self.open):
            return
        for part in {part for _, part in self.open if part} | {""}:
            self.parts[part] = f"{self.parts.get(part, '')} {data}"

    def text(self, part=""):
        return " ".join(self.parts.get(part, "").split())


def record(*happenings, species="dog", **of):
    """Every Heard begins an utterance, to which the happenings after it belong."""
    events, utterance = [], 1
    for number, what in enumerate(happenings, start=1):
        utterance = number if isinstance(what, Heard) else utterance
        time = OPENED + timedelta(seconds=number)
        events.append(Event(sequence=number, utterance=utterance, time=time, what=what))
    of = {"id": "mila-1", "animal": "Mila", "clinician": "Dr. Okoro", "index_scale": 3} | of
    return record_of(Case(species=species, opened=OPENED, **of), events)


def heard(text, outcome="charted", **more):
    return Heard(text=text, outcome=outcome, engine="vosk", score=0.91, **more)


def charted(*findings):
    return Charted(findings=findings)


def depth(tooth, value, site):
    return Finding(tooth=tooth, kind="pocket", value=value, unit="mm", site=site)


def page(*happenings, **of):
    return Page(html_page(record(*happenings, **of), GENERATED))


def test_the_page_says_whose_mouth_it_is_and_who_looked():
    text = page().text()
    assert all(word in text for word in ("Mila", "mila-1", "dog", "Dr. Okoro"))


def test_the_index_scale_is_stated():
    assert "Calculus, plaque and gingivitis: 0 to 3" in page().text()


def test_the_order_of_a_depth_run_is_stated():
    assert "Sites of a depth run are spoken mesial to distal." in page().text()


def test_the_caution_is_on_the_page():
    caution = "The tool proposes, the licensed clinician decides; local rules apply."
    assert caution in page().text()


def test_times_have_a_date_and_a_zone():
    assert moment(OPENED) == "2026-05-04 10:02:00 UTC+02:00"
    assert "Generated on 2026-05-04 09:30:00 UTC+00:00" in page().text()


def test_a_time_without_a_zone_says_so():
    assert moment(datetime(2026, 5, 4, 10, 2)) == "2026-05-04 10:02:00 (no zone stated)"


def test_charted_teeth_and_teeth_not_yet_charted_are_counted():
    text = page(heard("…"), charted(CALCULUS), heard("skip"), Skipped(tooth=109)).text("count")
    assert "1 of 42 permanent teeth charted 41 not yet charted" in text
    assert "skipped: 109" in text


def test_a_record_is_never_called_complete():
    assert "complete" not in page(heard("…"), charted(CALCULUS)).text().lower()


def test_deciduous_teeth_with_findings_are_counted_apart():
    found = Finding(tooth=504, kind="mobility", value=1)
    assert "1 deciduous with findings" in page(heard("…"), charted(found)).text("count")


def test_the_mouth_is_drawn_on_the_page():
    assert "svg" in page().tags
    assert "108" in page().text("mouth")


def test_findings_are_listed_by_tooth_with_name_and_site():
    found = Finding(tooth=108, kind="furcation", value=2, site="buccal")
    text = page(heard("…"), charted(CALCULUS, found)).text("findings")
    assert "108 right maxillary fourth premolar C2 Calculus index 2 of 3 whole tooth" in text
    assert "F2 Furcation stage 2 buccal" in text


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (Finding(tooth=104, kind="fracture", value="CCF"), "Fracture: complicated crown fracture"),
        (
            Finding(tooth=104, kind="resorption", value=3),
            "Tooth resorption stage 3: deep, into the pulp",
        ),
        (Finding(tooth=104, kind="wear", value="AT"), "Wear: attrition"),
        (
            Finding(tooth=104, kind="recession", value=2.5, unit="mm", site="labial"),
            "Gingival recession 2.5 mm labial",
        ),
        (Finding(tooth=104, kind="missing"), "Missing"),
    ],
)
def test_a_finding_is_written_in_words(found, words):
    assert words in page(heard("…"), charted(found)).text("findings")


def test_the_deepest_probing_depth_is_among_the_findings():
    depths = [depth(108, value, site) for value, site in ((3, "buccal"), (5, "distobuccal"))]
    text = page(heard("…"), charted(*depths)).text("findings")
    assert "Probing depth 5 mm, deepest of 2 distobuccal" in text


def test_six_depths_stand_in_the_order_in_which_they_were_spoken():
    sites = ("mesiolabial", "labial", "distolabial", "mesiolingual", "lingual", "distolingual")
    depths = [depth(404, value, site) for value, site in enumerate(sites, start=1)]
    assert "right mandibular canine 1 2 3 4 5 6" in page(heard("…"), charted(*depths)).text(
        "probing"
    )


def test_a_site_that_was_not_probed_has_a_dash():
    text = page(heard("…"), charted(depth(108, 3, "buccal"))).text("probing")
    assert "premolar – 3 – – – –" in text


def test_a_depth_at_another_site_is_not_lost():
    text = page(heard("…"), charted(depth(108, 3, "mesial"), depth(108, 4, None))).text("probing")
    assert "3 mesial" in text
    assert "4 no site" in text


def test_a_refusal_is_shown_with_its_reason():
    text = page(heard("two oh five", "refused", reason="A cat has no 205.")).text("heard")
    assert "two oh five refused A cat has no 205. vosk 0.91" in text


def test_an_open_doubt_is_listed_with_its_question():
    text = page(heard("pocket nine", "query", reason="Five or nine?")).text("doubts")
    assert "pocket nine Five or nine?" in text


def test_a_settled_doubt_is_open_no_more():
    settled = page(
        heard("pocket nine", "query", reason="Five or nine?"),
        heard("reject"),
        Settled(of=1, answer="rejected"),
    )
    assert "0 open doubts" in settled.text("count")
    assert "Five or nine? rejected by a person" in settled.text("heard")


def test_what_was_taken_back_is_heard_but_not_found():
    undone = page(heard("calculus two"), charted(CALCULUS), heard("undo"), Undone(of=1))
    assert "calculus two charted taken back" in undone.text("heard")
    assert "No findings are charted." in undone.text("findings")


def test_a_recording_is_named_without_its_folder():
    where = {"file": "/home/okoro/visits/mila.flac", "start_s": 12.31, "end_s": 15.0}
    text = page(heard("calculus two", **where)).text()
    assert "mila.flac at 12.3–15.0 s" in text
    assert "visits" not in text


def test_the_page_needs_nothing_outside_it():
    of = page(heard("…"), charted(CALCULUS))
    names = {name for name, _ in of.attributes}
    assert not {"src", "href", "xlink:href", "action", "srcset"} & names
    assert not {"script", "link", "iframe", "object", "embed", "img", "form"} & set(of.tags)


def test_a_banner_says_that_the_record_is_a_draft():
    assert "Draft: not closed" in page().text("standing")


def test_the_page_names_animal_and_case_in_print_without_opening_its_style_sheet():
    hostile = '"; } </style><script>x</script>'
    markup = html_page(record(animal=hostile), GENERATED)
    assert markup.count("</style>") == 1
    assert "<script>" not in markup
    assert '@top-left { content: "\\22 \\3B ' in markup


def test_the_content_hash_stands_at_the_end_of_the_page():
    made = record()
    assert f"Content hash {made.content_hash}" in Page(html_page(made, GENERATED)).text()


def test_markup_in_a_name_or_an_utterance_is_only_text():
    of = page(heard(HOSTILE, "query", reason=HOSTILE), animal=HOSTILE, clinician=HOSTILE)
    assert not {"script", "img"} & set(of.tags)
    assert not of.unbalanced
    assert "<script>alert(1)</script>" in of.text("doubts")


def test_control_and_bidirectional_characters_are_made_visible():
    markup = html_page(record(heard(HOSTILE, "refused"), animal=HOSTILE), GENERATED)
    assert "\x1b" not in markup
    assert "\u202e" not in markup
    assert "␛[31m⟨U+202E⟩{{ 7*7 }}" in markup


@settings(deadline=None, max_examples=40)
@given(st.text(), st.text(max_size=200))
def test_whatever_was_said_the_page_keeps_its_shape(words, animal):
    plain, odd = page(heard("x", "query")), page(heard(words, "query", reason=words), animal=animal)
    assert not odd.unbalanced
    assert set(odd.tags) == set(plain.tags)


def test_reports_are_five_files_in_a_folder_of_ones_own(tmp_path):
    folder = tmp_path / "exports" / "mila-1"
    paths = write_reports(record(heard("…"), charted(CALCULUS)), folder, GENERATED)
    names = ["record.json", "findings.csv", "observations.csv", "record.html", "record.pdf"]
    assert [path.name for path in paths] == names
    assert folder.stat().st_mode & 0o777 == 0o700
    assert {path.stat().st_mode & 0o777 for path in paths} == {0o600}


def test_reports_may_be_written_again_into_the_same_folder(tmp_path):
    of = record(heard("…"), charted(CALCULUS))
    write_reports(record(), tmp_path)
    assert read_json(write_reports(of, tmp_path)[0]) == of


def test_a_folder_that_cannot_be_made_is_named_in_a_sentence(tmp_path):
    (tmp_path / "mila").write_text("a file")
    with pytest.raises(DictateError, match=r"mila could not be made"):
        write_reports(record(), tmp_path / "mila")


def test_the_exported_json_holds_the_utterance_as_it_was(tmp_path):
    path = write_reports(record(heard(HOSTILE, "refused")), tmp_path)[0]
    assert json.loads(path.read_text())["events"][0]["what"]["text"] == HOSTILE
