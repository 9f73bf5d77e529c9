from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.attachment import attachment
from dictate.chart.chart import Chart
from dictate.chart.events import Charted
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds


def charted(species: str, *rows: tuple, index_scale: int = 4) -> Chart:
    """A chart of rows (tooth, kind, value, site), the last two left out where there are none."""
    blank = Chart(species=species, index_scale=index_scale)
    return blank.after(Charted(findings=tuple(finding(*row) for row in rows)))


def finding(tooth: int, kind: str, value=None, site=None) -> Finding:
    unit = finding_kinds()[kind].unit
    return Finding(tooth=tooth, kind=kind, value=value, unit=unit, site=site)


def place_of(row: tuple):
    """What a row is a finding of: no chart has two findings of one place."""
    return finding(*row).place


def site_of(chart: Chart, place: str | None, tooth: int = 208):
    return next(each for each in attachment(chart, tooth).sites if each.place == place)


def test_attachment_loss_is_depth_and_recession():
    # Source: AVDC nomenclature, Periodontal Disease: total attachment loss.
    chart = charted("dog", (208, "pocket", 4, "mesial"), (208, "recession", 2, "mesial"))
    assert site_of(chart, "mesial").loss_mm == 6


def test_enlargement_is_taken_off_the_depth():
    # Source: AVDC nomenclature, Periodontal Disease: margin coronal to the junction.
    chart = charted("dog", (208, "pocket", 7, "buccal"), (208, "enlargement", 3, "buccal"))
    assert site_of(chart, "buccal").loss_mm == 4


def test_loss_is_never_below_nothing():
    chart = charted("dog", (208, "pocket", 2, "buccal"), (208, "enlargement", 5, "buccal"))
    assert site_of(chart, "buccal").loss_mm == 0


def test_two_names_of_one_side_are_one_site():
    # Source: AVDC nomenclature, Anatomy: palatal or lingual, buccal or labial.
    chart = charted("dog", (208, "pocket", 4, "lingual"), (208, "recession", 1, "palatal"))
    assert site_of(chart, "palatal").loss_mm == 5


def test_attachment_is_that_of_its_tooth():
    found = attachment(charted("dog", (208, "pocket", 4, "mesial")), 208)
    assert (found.tooth, [site.tooth for site in found.sites]) == (208, [208])


def test_measurements_at_different_sites_are_not_added():
    chart = charted("dog", (208, "pocket", 4, "mesial"), (208, "recession", 2, "distal"))
    assert site_of(chart, "mesial").loss_mm == 4


def test_a_recession_without_a_site_is_not_added_to_a_depth_that_has_one():
    chart = charted("dog", (208, "pocket", 4, "mesial"), (208, "recession", 2))
    assert site_of(chart, "mesial").loss_mm == 4


def test_a_recession_and_a_depth_without_sites_are_added():
    chart = charted("dog", (208, "pocket", 4), (208, "recession", 2))
    assert site_of(chart, None).loss_mm == 6


def test_recession_without_a_depth_is_the_least_that_is_lost():
    site = site_of(charted("dog", (208, "recession", 2, "buccal")), "buccal")
    assert (site.loss_mm, site.at_least) == (2, True)


def test_enlargement_alone_says_nothing_of_attachment():
    assert site_of(charted("dog", (208, "enlargement", 2, "buccal")), "buccal").loss_mm is None


def test_the_normal_sulcus_of_a_dog_is_a_pocket_in_a_cat():
    # Source: dog up to 3 mm, cat up to 1 mm: common practice, no source.
    row = (108, "pocket", 3, "mesial")
    found = [site_of(charted(species, row), "mesial", 108).pocket for species in ("dog", "cat")]
    assert found == ["sulcus", "pocket"]


def test_a_deep_site_under_enlarged_gingiva_is_a_pseudopocket():
    # Source: AVDC nomenclature, Periodontal Disease: pseudopocket.
    chart = charted("dog", (208, "pocket", 6, "buccal"), (208, "enlargement", 4, "buccal"))
    assert site_of(chart, "buccal").pocket == "pseudopocket"


def test_a_site_that_stays_deep_without_its_enlargement_is_a_pocket():
    # Source: AVDC nomenclature, Periodontal Disease: pseudopocket.
    chart = charted("dog", (208, "pocket", 8, "buccal"), (208, "enlargement", 2, "buccal"))
    assert site_of(chart, "buccal").pocket == "pocket"


def test_any_recession_is_loss_even_at_normal_depth():
    chart = charted("dog", (208, "pocket", 2, "buccal"), (208, "recession", 1, "buccal"))
    assert site_of(chart, "buccal").beyond_normal


def test_the_worst_site_is_that_of_the_greatest_loss_not_of_the_deepest_pocket():
    chart = charted(
        "dog",
        (208, "pocket", 5, "mesial"),
        (208, "pocket", 4, "buccal"),
        (208, "recession", 3, "buccal"),
    )
    found = attachment(chart, 208)
    assert (found.worst.place, found.deepest.place) == ("buccal", "mesial")


def test_a_tooth_without_measurements_has_no_worst_site():
    assert attachment(charted("dog", (208, "calculus", 2)), 208).worst is None


measurements = st.tuples(
    st.just(208),
    st.sampled_from(["pocket", "recession", "enlargement"]),
    st.integers(0, 20),
    st.sampled_from([None, "mesial", "distal", "buccal", "labial", "palatal", "lingual"]),
)


@given(st.lists(measurements, max_size=10, unique_by=place_of), st.randoms())
def test_attachment_does_not_depend_on_the_order_of_findings(rows, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert attachment(charted("dog", *rows), 208) == attachment(charted("dog", *shuffled), 208)
