"""What each kind of phrase is taken to mean."""

import pytest

from dictate.grammar.spoken import spoken_languages
from dictate.phrases.reading import read_utterance
from dictate.phrases.statements import ChooseTeeth, ChooseTooth, Clear, Command, Found, Seen

LANGUAGES = spoken_languages()


def read(text: str, part: str = "charting") -> tuple:
    return read_utterance(LANGUAGES[part], text).statements


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("201 to 203", (ChooseTeeth(first=201, last=203),)),
        ("all upper left", (ChooseTeeth(group="upper_left"),)),
        ("all teeth", (ChooseTeeth(group="all"),)),
        ("all lower incisors", (ChooseTeeth(group="lower_incisors"),)),
        ("rest of the upper left molars", (ChooseTeeth(group="upper_left_molars_rest"),)),
        *(
            (
                f"208 calculus 1 {move} calculus 2",
                (
                    ChooseTooth(208),
                    Found("calculus", 1, None, 208),
                    Command(move.split()[0]),
                    Found("calculus", 2),
                ),
            )
            for move in ("next tooth", "previous tooth", "skip")
        ),
        ("upper right deciduous canine", (ChooseTooth(504, by_name=False),)),
        ("upper right canine", (ChooseTooth(104, by_name=True),)),
        (
            "mesial pocket 5 recession 2 calculus 1 pocket 3",
            (
                Found("pocket", 5, "mesial"),
                Found("recession", 2, "mesial"),
                Found("calculus", 1),
                Found("pocket", 3),
            ),
        ),
        ("rest of the mouth", (ChooseTeeth(group="rest"),)),
        ("clear 208", (Clear(208, None),)),
        ("clear 208 pocket", (Clear(208, "pocket"),)),
        ("not missing", (Clear(None, "missing"),)),
        ("208 not missing", (ChooseTooth(208), Clear(None, "missing"))),
        ("next tooth", (Command("next"),)),
        ("previous tooth", (Command("previous"),)),
        ("skip", (Command("skip"),)),
        ("go to radiographs", (Command("context", "radiographs"),)),
        (
            "change 208 pocket to 4",
            (Command("correction", "standing"), Found("pocket", 4, None, 208)),
        ),
        ("pocket 5.5 mesial", (Found("pocket", 5.5, "mesial"),)),
        ("pocket 0.5 mesial", (Found("pocket", 0.5, "mesial"),)),
        (
            "208 buccal 3 2 4",
            (
                ChooseTooth(208),
                Found("pocket", 3, "mesiobuccal", 208),
                Found("pocket", 2, "buccal", 208),
                Found("pocket", 4, "distobuccal", 208),
            ),
        ),
    ],
)
def test_a_phrase_means_this_and_nothing_else(said, meant):
    assert read(said) == meant


@pytest.mark.parametrize(
    ("part", "said", "meant"),
    [
        (
            "soft_tissue",
            "mass left upper lip five by seven millimeters pink smooth",
            (
                Seen(
                    "mass", place="left_upper_lip", size_mm=(5, 7), colour="pink", surface="smooth"
                ),
            ),
        ),
        (
            "soft_tissue",
            "mass upper gum near 208 10.5 by 12",
            (Seen("mass", place="upper_gum", tooth=208, size_mm=(10.5, 12)),),
        ),
        ("soft_tissue", "ulcer tongue 0 mm", (Seen("ulcer", place="tongue", size_mm=(0,)),)),
        ("soft_tissue", "ulcer tongue 3.5 mm", (Seen("ulcer", place="tongue", size_mm=(3.5,)),)),
        (
            "soft_tissue",
            "severe stomatitis left caudal mouth",
            (Seen("stomatitis", "severe", "left_caudal_mouth"),),
        ),
        (
            "soft_tissue",
            "foreign hair right lip fold near 604",
            (Seen("foreign_hair", place="right_lip_fold", tooth=604),),
        ),
        (
            "soft_tissue",
            "mass tongue near 208 12 mm red rough, ulcer tongue, tongue normal",
            (
                Seen("mass", None, "tongue", 208, (12,), "red", "rough"),
                Seen("ulcer", place="tongue"),
                Seen("tongue", "normal"),
            ),
        ),
        ("soft_tissue", "soft tissue normal", (Command("covered", "soft_tissue"),)),
        (
            "treatment",
            "right inferior alveolar block bupivacaine 0.25 ml",
            (Seen("block", "inferior_alveolar", "right", agent="bupivacaine", volume_ml=0.25),),
        ),
        (
            "treatment",
            "left infraorbital block lidocaine 1.05 ml",
            (Seen("block", "infraorbital", "left", agent="lidocaine", volume_ml=1.05),),
        ),
        (
            "treatment",
            "left mental block articaine one milliliter",
            (Seen("block", "mental", "left", agent="articaine", volume_ml=1),),
        ),
        ("treatment", "left infraorbital block", (Seen("block", "infraorbital", "left"),)),
        (
            "treatment",
            "208 scaled all lower incisors polished 201 to 203 restored",
            (
                ChooseTooth(208),
                Found("scaled", None, None, 208),
                ChooseTeeth(group="lower_incisors"),
                Found("polished"),
                ChooseTeeth(first=201, last=203),
                Found("restored"),
            ),
        ),
        ("radiographs", "upper left parallel view", (Seen("view", "parallel", "upper_left"),)),
        ("radiographs", "full mouth radiographs", (Seen("view", "full_mouth"),)),
        (
            "radiographs",
            "208 horizontal bone loss 35 percent",
            (ChooseTooth(208), Found("horizontal_bone_loss", 35, None, 208)),
        ),
        ("awake", "general calculus 2", (Seen("general_calculus", 2),)),
        ("awake", "class two malocclusion", (Seen("occlusion", "MAL2"),)),
        (
            "awake",
            "left lymph node enlarged, ears normal",
            (Seen("lymph_node", "enlarged", "left"), Seen("ear", "normal")),
        ),
    ],
)
def test_in_other_parts_of_the_visit_a_phrase_means_this(part, said, meant):
    assert read(said, part) == meant
