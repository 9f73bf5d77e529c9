import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.assessment.staging import stage_at_furcation, stage_of, stage_rows, stages
from tests.test_assessment_attachment import charted, place_of

PD = "AVDC nomenclature, Periodontal Disease"


def staged(*rows, species="dog", tooth=208):
    return stage_of(charted(species, *rows), tooth)


@pytest.mark.parametrize(
    ("percent", "stage"), [(0, 0), (1, 2), (24, 2), (25, 3), (50, 3), (51, 4), (100, 4)]
)
@pytest.mark.parametrize("kind", ["horizontal_bone_loss", "vertical_bone_loss"])
def test_bone_loss_on_the_radiograph_stages_a_tooth(kind, percent, stage):
    # Source: AVDC nomenclature, Periodontal Disease: under 25, 25-50, over 50 %.
    assert staged((208, kind, percent)).stage == stage


@pytest.mark.parametrize(
    ("loss_mm", "stage"), [(4.8, 2), (5, 3), (10, 3), (10.2, 4)], ids=["24%", "25%", "50%", "51%"]
)
def test_probed_loss_over_root_length_stages_a_tooth(loss_mm, stage):
    # Source: AVDC nomenclature, Periodontal Disease: relative to a root, here of 20 mm.
    found = staged(
        (208, "pocket", loss_mm, "mesial"), (208, "root_length", 20), (208, "gingivitis", 1)
    )
    assert (found.stage, found.provisional) == (stage, False)


@pytest.mark.parametrize(("furcation", "stage"), [(1, 2), (2, 3), (3, 4)])
def test_a_furcation_stages_a_tooth(furcation, stage):
    # Source: AVDC nomenclature, Periodontal Disease: furcation stages 1-3.
    assert staged((208, "furcation", furcation)).stage == stage


def test_the_gravest_criterion_wins():
    # Source: AVDC nomenclature, Periodontal Disease: percentage "or" furcation.
    assert staged((208, "horizontal_bone_loss", 10), (208, "furcation", 2, "buccal")).stage == 3


def test_the_gravest_percentage_wins():
    rows = [(208, "pocket", 6, "mesial"), (208, "root_length", 10)]
    assert staged(*rows, (208, "horizontal_bone_loss", 10)).percent == 60


@pytest.mark.parametrize("sign", [(208, "gingivitis", 1), (208, "bleeding")])
def test_inflamed_gingiva_at_normal_depth_is_pd1(sign):
    # Source: AVDC nomenclature, Periodontal Disease: gingivitis only, no attachment loss.
    found = staged(sign, (208, "pocket", 2, "mesial"))
    assert (found.name, found.provisional) == ("PD1", False)


def test_gingivitis_without_probing_is_pd1_provisionally():
    assert "Attachment not measured" in staged((208, "gingivitis", 2)).missing[0]


def test_normal_depth_and_no_gingivitis_is_pd0():
    # Source: AVDC nomenclature, Periodontal Disease: clinically normal.
    found = staged((208, "pocket", 3, "mesial"), (208, "gingivitis", 0))
    assert (found.name, found.provisional) == ("PD0", False)


def test_normal_depth_alone_is_pd0_only_provisionally():
    assert staged((208, "pocket", 3, "mesial")).missing == ("Gingivitis not graded.",)


def test_a_tooth_charted_normal_is_pd0():
    found = staged((208, "normal"))
    assert (found.name, found.provisional) == ("PD0", False)


def test_a_pseudopocket_is_no_attachment_loss():
    # Source: AVDC nomenclature, Periodontal Disease: pseudopocket.
    found = staged(
        (208, "pocket", 6, "buccal"), (208, "enlargement", 4, "buccal"), (208, "gingivitis", 1)
    )
    assert found.name == "PD1"


@pytest.mark.parametrize(("species", "stage"), [("dog", 0), ("cat", 2)])
def test_three_millimetres_are_normal_in_a_dog_but_loss_in_a_cat(species, stage):
    # Source: normal sulcus, dog to 3 mm, cat to 1 mm: common practice, no source.
    assert staged((208, "pocket", 3, "mesial"), species=species).stage == stage


def test_loss_without_a_percentage_is_pd2_provisionally_and_says_what_is_missing():
    # Source: AVDC nomenclature, Periodontal Disease: loss is relative to root length.
    found = staged((208, "pocket", 9, "mesial"))
    assert (found.name, found.provisional, found.percent) == ("PD2", True, None)
    assert "root length in mm or bone loss in %" in found.missing[0]


def test_nothing_can_make_pd4_graver_so_it_is_never_provisional():
    assert not staged((208, "furcation", 3), (208, "recession", 2, "buccal")).provisional


def test_recession_without_a_depth_may_be_more_loss_than_it_seems():
    found = staged((208, "recession", 2, "buccal"), (208, "root_length", 20))
    assert (found.name, found.percent, found.provisional) == ("PD2", 10, True)


BOTH = [(208, "recession", 2, "buccal"), (208, "enlargement", 1, "buccal")]


@pytest.mark.parametrize("depth", [5, 11])
def test_recession_and_enlargement_at_the_site_of_a_pocket_leave_the_stage_open(depth):
    # Source: AVDC nomenclature: the margin stands apical or coronal to the junction, not both.
    found = staged((208, "pocket", depth, "buccal"), *BOTH, (208, "root_length", 20))
    assert found.missing == ("Recession and enlargement at one site (buccal): which is it?",)
    assert found.name == {5: "PD3", 11: "PD4"}[depth]


@pytest.mark.parametrize(
    "other", [(208, "furcation", 3), (208, "vertical_bone_loss", 60), (208, "pocket", 11, "mesial")]
)
def test_pd4_that_another_finding_makes_is_settled(other):
    rows = [(208, "pocket", 11, "buccal"), *BOTH, (208, "root_length", 20), other]
    assert (staged(*rows).name, staged(*rows).provisional) == ("PD4", False)


def test_recession_and_enlargement_at_two_sites_or_at_normal_depth_leave_the_stage_settled():
    length = (208, "root_length", 20)
    apart = [(208, "recession", 2, "buccal"), (208, "enlargement", 1, "mesial")]
    assert not staged((208, "pocket", 5, "buccal"), *apart, length).provisional
    assert not staged((208, "pocket", 3, "buccal"), *BOTH, length).provisional


def test_loss_on_probing_without_bone_loss_on_the_radiograph_stays_provisional():
    found = staged((208, "pocket", 6, "buccal"), (208, "horizontal_bone_loss", 0))
    assert (found.name, found.provisional) == ("PD2", True)


@pytest.mark.parametrize("rows", [[], [(208, "calculus", 3)], [(208, "fracture", "UCF")]])
def test_a_tooth_whose_gingiva_and_attachment_were_not_examined_has_no_stage(rows):
    assert staged(*rows) is None


@pytest.mark.parametrize("kind", ["missing", "unerupted"])
def test_a_tooth_that_is_not_in_the_mouth_has_no_stage(kind):
    assert staged((208, kind), (208, "horizontal_bone_loss", 60)) is None


def test_the_gravest_reason_comes_first():
    found = staged((208, "gingivitis", 2), (208, "pocket", 5, "mesial"), (208, "furcation", 2))
    assert found.reasons == (
        "Stage 2 furcation.",
        "Attachment loss 5 mm (mesial), percentage unknown.",
    )


def test_a_reason_gives_loss_root_and_percentage():
    found = staged((208, "pocket", 5, "mesial"), (208, "root_length", 20))
    assert found.reasons == ("Attachment loss 5 mm (mesial), 25 % of a root of 20 mm.",)


NO_PERCENTAGE = "No percentage: root length in mm or bone loss in % from a radiograph."
NO_DEPTH = "Recession without a probing depth at the same site."
NOT_MEASURED = "Attachment not measured: probing depths or a radiograph."


@pytest.mark.parametrize(
    ("rows", "stage", "reasons", "missing"),
    [
        ([(208, "normal")], 0, ["Charted present and normal."], []),
        (
            [(208, "gingivitis", 1), (208, "bleeding")],
            1,
            ["Gingivitis index 1.", "Bleeding on probing."],
            [NOT_MEASURED],
        ),
        (
            [(208, "gingivitis", 2), (208, "pocket", 2.5, "mesial")],
            1,
            [
                "Gingivitis index 2.",
                "Depth up to 2.5 mm, normal up to 3 mm, and no recession charted.",
            ],
            [],
        ),
        (
            [
                (208, "gingivitis", 0),
                (208, "pocket", 6, "buccal"),
                (208, "enlargement", 4, "buccal"),
            ],
            0,
            [
                "Gingivitis index 0.",
                "Pseudopocket: depth up to 6 mm with enlargement, no attachment loss.",
            ],
            [],
        ),
        (
            [(208, "recession", 2, "buccal")],
            2,
            ["Attachment loss at least 2 mm (buccal), percentage unknown."],
            [NO_PERCENTAGE, NO_DEPTH],
        ),
        (
            [(208, "pocket", 5)],
            2,
            ["Attachment loss 5 mm (site not stated), percentage unknown."],
            [NO_PERCENTAGE],
        ),
        (
            [(208, "vertical_bone_loss", 30), (208, "gingivitis", 2)],
            3,
            ["Bone loss 30 % on the radiograph."],
            [],
        ),
        (
            [(208, "pocket", 5, "mesial"), (208, "vertical_bone_loss", 0)],
            2,
            ["Attachment loss 5 mm (mesial), percentage unknown."],
            ["Attachment lost on probing, no bone lost on the radiograph: root length."],
        ),
        (
            [
                (208, "pocket", 5, "mesial"),
                (208, "vertical_bone_loss", 0),
                (208, "root_length", 20),
            ],
            3,
            ["Attachment loss 5 mm (mesial), 25 % of a root of 20 mm."],
            [],
        ),
        (
            [(208, "furcation", 1), (208, "gingivitis", 1)],
            2,
            ["Stage 1 furcation."],
            [NO_PERCENTAGE],
        ),
    ],
)
def test_a_stage_says_why_and_what_is_missing(rows, stage, reasons, missing):
    # Source: AVDC nomenclature, Periodontal Disease; what is missing: common practice, no source.
    found = staged(*rows)
    assert (found.stage, list(found.reasons), list(found.missing)) == (stage, reasons, missing)
    assert found.source == stage_rows()[stage].source


@pytest.mark.parametrize(("rows", "percent"), [
    ([(208, "pocket", 2, "mesial"), (208, "root_length", 20)], 0),
    ([(208, "pocket", 2, "mesial")], None),
    ([(208, "root_length", 20), (208, "gingivitis", 1)], None),
])  # fmt: skip
def test_a_percentage_is_known_where_attachment_was_probed_on_a_measured_root(rows, percent):
    assert staged(*rows).percent == percent


def test_stages_come_in_charting_order():
    chart = charted("dog", (408, "gingivitis", 1), (108, "gingivitis", 1), (504, "bleeding"))
    assert [each.tooth for each in stages(chart)] == [108, 408, 504]


def test_every_stage_names_its_source():
    assert all(row.source.startswith(PD) for row in stage_rows())


def test_no_furcation_makes_no_stage():
    assert stage_at_furcation(0) == 0


sites = st.sampled_from([None, "mesial", "distal", "buccal", "lingual"])
worsening = st.one_of(
    st.tuples(st.just(208), st.sampled_from(["pocket", "recession"]), st.integers(0, 20), sites),
    st.tuples(st.just(208), st.just("furcation"), st.integers(1, 3), sites),
    st.tuples(st.just(208), st.sampled_from(["gingivitis", "calculus"]), st.integers(0, 4)),
    st.tuples(st.just(208), st.sampled_from(["bleeding", "caries", "discolored"])),
    st.tuples(
        st.just(208),
        st.sampled_from(["horizontal_bone_loss", "vertical_bone_loss"]),
        st.integers(0, 100),
    ),
    st.tuples(st.just(208), st.just("root_length"), st.integers(3, 60)),
)
mouths = st.lists(worsening, max_size=10, unique_by=place_of)


@given(mouths.filter(bool))
def test_adding_a_finding_never_lowers_the_stage(rows):
    """Enlargement is left out: it stands for depth without loss."""
    before, after = staged(*rows[:-1]), staged(*rows)
    assert before is None or after.stage >= before.stage


@given(mouths, st.randoms())
def test_the_stage_does_not_depend_on_the_order_of_findings(rows, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert staged(*rows) == staged(*shuffled)


@given(mouths.filter(bool))
def test_a_finding_that_is_not_periodontal_leaves_the_stage_alone(rows):
    found = staged(*rows)
    assert staged(*rows, (208, "draining_tract")) == found
