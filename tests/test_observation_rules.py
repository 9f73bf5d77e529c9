"""What the chart answers when an observation cannot be, or must be asked, word for word."""

import pytest

from dictate.chart.chart import Chart
from dictate.chart.events import Observed
from dictate.chart.observation import Observation, observation_kinds
from dictate.chart.observation_rules import objection_to_observation
from dictate.chart.plan import plan_statements
from dictate.chart.rules import Objection
from tests.test_chart_rules import CAT, DOG, impossible


def seen(kind: str, value=None, place=None, **more) -> Observation:
    return Observation(kind=kind, value=value, place=place, **more)


def observing(*observations: Observation, on: Chart = DOG) -> Chart:
    return on.after(Observed(observations=observations))


BLOCK = ("block", "mental", "left")


@pytest.mark.parametrize(
    ("wrong", "rule", "sentence"),
    [
        (seen("halo"), "observation", "There is no observation called halo."),
        (seen("mass", 2, "tongue"), "range", "Mass takes no value, not 2."),
        (
            seen("swelling", "huge", "left"),
            "range",
            "Facial swelling takes one of normal, present, not huge.",
        ),
        (
            seen("general_calculus", 5),
            "range",
            "Calculus seen awake, whole mouth takes 0 to 4, not 5.",
        ),
        (
            seen("general_calculus", -1),
            "range",
            "Calculus seen awake, whole mouth takes 0 to 4, not -1.",
        ),
        (
            seen("general_calculus"),
            "range",
            "Calculus seen awake, whole mouth takes 0 to 4, not None.",
        ),
        (seen("mass"), "place", "Mass: say where."),
        (seen("ear", "normal"), "place", "Ear: say where."),
        (
            seen("mass", None, "left_lip_fold"),
            "place",
            "Mass has no place called left lip fold.",
        ),
        (
            seen("tongue", "normal", "left"),
            "place",
            "Tongue has no place called left.",
        ),
        (seen("tongue", "swollen", size_mm=(5,)), "size", "Tongue carries no size."),
        *(
            (
                seen("mass", None, "tongue", size_mm=size),
                "size",
                "A size is one or two lengths above 0 and up to 200 mm.",
            )
            for size in [(0,), (5, 0), (-1,), (200.5,), (5, 201), (5, 5, 5)]
        ),
        (seen("ulcer", None, "tongue", colour="pink"), "colour", "Ulcer takes no colour pink."),
        (seen("mass", None, "tongue", colour="blue"), "colour", "Mass takes no colour blue."),
        (
            seen("ulcer", None, "tongue", surface="smooth"),
            "surface",
            "Ulcer takes no surface smooth.",
        ),
        (
            seen("mass", None, "tongue", surface="wet"),
            "surface",
            "Mass takes no surface wet.",
        ),
        (
            seen("mass", None, "tongue", agent="lidocaine"),
            "agent",
            "Mass carries no agent.",
        ),
        (seen("mass", None, "tongue", volume_ml=1), "agent", "Mass carries no agent."),
        *(
            (
                seen(*BLOCK, agent="lidocaine", volume_ml=volume),
                "volume",
                "A volume is above 0 and up to 20 mL.",
            )
            for volume in (0, -1, 20.5)
        ),
        (
            seen("tongue", "swollen", tooth=208),
            "tooth",
            "Tongue is not charted at a tooth.",
        ),
        (seen("mass", None, "tongue", tooth=212), "dentition", "A dog has no 212."),
    ],
)
def test_what_cannot_be_observed_is_refused_in_a_sentence_that_says_why(wrong, rule, sentence):
    assert objection_to_observation(DOG, wrong) == impossible(rule, sentence)


@pytest.mark.parametrize(
    "observation",
    [
        seen("general_calculus", 0),
        seen("general_calculus", 4),
        seen("mass", None, "tongue"),
        seen("mass", None, "tongue", size_mm=(0.5,)),
        seen("mass", None, "tongue", size_mm=(200, 1)),
        seen("mass", None, "upper_gum", tooth=208, size_mm=(5, 7), colour="red", surface="rough"),
        seen("ulcer", None, "tongue", size_mm=(3,), tooth=604),
        seen(*BLOCK),
        seen(*BLOCK, agent="lidocaine", volume_ml=0.1),
        seen(*BLOCK, agent="lidocaine", volume_ml=20),
        seen("view", "full_mouth"),
        seen("tongue", "normal"),
    ],
)
def test_what_can_be_observed_is_not_objected_to(observation):
    # Bounds of sizes and volumes: common practice, no source.
    assert objection_to_observation(DOG, observation) is None


def test_a_grade_seen_awake_ends_with_the_scale_of_the_practice():
    narrow = Chart(species="dog", index_scale=3)
    assert objection_to_observation(DOG, seen("general_calculus", 4)) is None
    assert objection_to_observation(narrow, seen("general_calculus", 4)) == impossible(
        "range", "Calculus seen awake, whole mouth takes 0 to 3, not 4."
    )


def test_a_mass_lies_only_at_a_tooth_of_the_species():
    assert objection_to_observation(CAT, seen("mass", None, "upper_gum", tooth=205)) == impossible(
        "dentition", "A cat has no 205."
    )


TONGUE_NORMAL = seen("tongue", "normal")
COVERED = seen("tongue", "normal", covered=True)
ULCER = seen("ulcer", None, "under_tongue")
BLOCKED = seen(*BLOCK)
LIDOCAINE = seen(*BLOCK, agent="lidocaine", volume_ml=1.0)
LIPS_NORMAL = seen("lips", "normal", "left")


@pytest.mark.parametrize(
    ("standing", "observation", "question"),
    [
        (
            TONGUE_NORMAL,
            seen("tongue", "swollen"),
            "tongue normal stands. Replace by tongue swollen?",
        ),
        (TONGUE_NORMAL, ULCER, "tongue normal stands. Replace by under tongue ulcer?"),
        (ULCER, TONGUE_NORMAL, "under tongue ulcer stands. Replace by tongue normal?"),
        (
            LIPS_NORMAL,
            seen("mass", None, "left_upper_lip", size_mm=(5, 7.5)),
            "left lip normal stands. Replace by left upper lip mass 5 × 7.5 mm?",
        ),
        (
            LIDOCAINE,
            seen(*BLOCK, agent="lidocaine", volume_ml=0.5),
            "left regional block mental (middle) lidocaine 1 mL stands."
            " Replace by left regional block mental (middle) lidocaine 0.5 mL?",
        ),
        (
            seen("mass", None, "tongue", colour="red", surface="rough"),
            seen("mass", None, "tongue", size_mm=(3,)),
            "tongue mass red rough stands. Replace by tongue mass 3 mm?",
        ),
        (
            seen("general_calculus", 1),
            seen("general_calculus", 2),
            "calculus seen awake, whole mouth 1 stands."
            " Replace by calculus seen awake, whole mouth 2?",
        ),
    ],
)
def test_what_stands_is_replaced_only_after_a_question(standing, observation, question):
    asked = objection_to_observation(observing(standing), observation)
    assert asked == Objection("ask", "replace", question)
    assert objection_to_observation(observing(standing), observation, correcting=True) is None


@pytest.mark.parametrize(
    ("standing", "observation", "stands"),
    [
        (COVERED, ULCER, (ULCER,)),
        (COVERED, TONGUE_NORMAL, (TONGUE_NORMAL,)),
        (ULCER, ULCER, (ULCER,)),
        (BLOCKED, LIDOCAINE, (LIDOCAINE,)),
        (
            LIDOCAINE,
            seen(*BLOCK, agent="articaine", volume_ml=1.0),
            (LIDOCAINE, seen(*BLOCK, agent="articaine", volume_ml=1.0)),
        ),
        (
            LIPS_NORMAL,
            seen("mass", None, "right_upper_lip"),
            (LIPS_NORMAL, seen("mass", None, "right_upper_lip")),
        ),
        (TONGUE_NORMAL, seen("palate", "cleft"), (TONGUE_NORMAL, seen("palate", "cleft"))),
        (
            seen("tongue", "swollen"),
            seen("tongue", "ulcerated"),
            (seen("tongue", "swollen"), seen("tongue", "ulcerated")),
        ),
        (
            seen("mass", None, "tongue", tooth=208),
            seen("mass", None, "tongue", tooth=209),
            (seen("mass", None, "tongue", tooth=208), seen("mass", None, "tongue", tooth=209)),
        ),
    ],
)
def test_what_takes_nothing_away_is_charted_unasked(standing, observation, stands):
    statement = {"statement": "observation", "observation": observation.model_dump(mode="json")}
    plan = plan_statements(observing(standing), [statement])
    assert plan.objection is None
    assert plan.statements == (statement,)
    (happening,) = plan.happenings
    assert observing(standing).after(happening).observations == stands


def test_an_observation_that_cannot_be_changes_nothing():
    wrong = seen("mass", None, "tongue", size_mm=(0,)).model_dump(mode="json")
    plan = plan_statements(DOG, [{"statement": "observation", "observation": wrong}])
    assert plan.happenings == ()
    assert plan.objection.rule == "size"


def test_a_paired_part_named_without_a_side_is_both():
    said = seen("ear", "painful").model_dump(mode="json")
    plan = plan_statements(DOG, [{"statement": "observation", "observation": said}])
    assert [each["observation"]["place"] for each in plan.statements] == ["left", "right"]
    assert [each.observations for each in plan.happenings] == [
        (seen("ear", "painful", "left"),),
        (seen("ear", "painful", "right"),),
    ]


def test_what_was_not_stated_is_covered_as_normal_and_nothing_else():
    standing = (seen("lips", "ulcerated", "left"), ULCER, seen("tonsil", "enlarged", "right"))
    cover = {"statement": "covered", "about": "soft_tissue"}
    plan = plan_statements(observing(*standing), [cover])
    assert (plan.objection, plan.statements) == (None, (cover,))
    (happening,) = plan.happenings
    assert {(each.kind, each.place) for each in happening.observations} == {
        ("palate", None),
        ("tonsil", "left"),
    }
    assert all(each.covered and each.value == "normal" for each in happening.observations)


def test_the_head_is_covered_side_by_side():
    plan = plan_statements(DOG, [{"statement": "covered", "about": "head"}])
    (happening,) = plan.happenings
    head = {kind: row for kind, row in observation_kinds().items() if row.section == "head"}
    assert {(each.kind, each.place) for each in happening.observations} == {
        (kind, place)
        for kind, row in head.items()
        for place in (("left", "right") if row.paired else (None,))
    }


def test_nothing_is_covered_where_all_is_stated():
    parts = [seen(kind, "normal") for kind in ("tongue", "palate")]
    sides = [seen("tonsil", "normal", side) for side in ("left", "right")]
    plan = plan_statements(
        observing(*parts, *sides), [{"statement": "covered", "about": "soft_tissue"}]
    )
    assert plan.happenings == ()
    assert plan.objection == impossible(
        "covered", "All of it is stated already: nothing is left to call normal."
    )


@pytest.mark.parametrize(
    ("observation", "words"),
    [
        (seen("lymph_node", "enlarged", "left"), "left mandibular lymph node enlarged"),
        (
            seen("mass", None, "upper_gum", tooth=208, size_mm=(5, 7.5), colour="red"),
            "upper gum mass at 208 5 × 7.5 mm red",
        ),
        (LIDOCAINE, "left regional block mental (middle) lidocaine 1 mL"),
        (
            seen(*BLOCK, agent="bupivacaine", volume_ml=0.25),
            "left regional block mental (middle) bupivacaine 0.25 mL",
        ),
        (seen("general_calculus", 0), "calculus seen awake, whole mouth 0"),
    ],
)
def test_an_observation_in_words(observation, words):
    assert observation.words() == words
