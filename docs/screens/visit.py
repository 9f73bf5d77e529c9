"""The scripted visits of two invented animals, and what is shown of them in docs/screens.md."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """Phrases that are typed, then keys that are pressed (as tmux names them), and what is seen in
    the end. Where it has a `name`, the screen is kept under it, with a `line` that says what it
    shows."""

    seen: str
    says: tuple[str, ...] = ()
    presses: tuple[str, ...] = ()
    name: str = ""
    line: str = ""


@dataclass(frozen=True)
class Visit:
    """A visit in a terminal of so many columns and lines."""

    animal: str
    species: str
    size: tuple[int, int]
    steps: tuple[Step, ...]


DOG = Visit(
    "Tula",
    "dog",
    (80, 24),
    (
        Step("No tooth in hand", name="dog-begins", line="A new case, in a terminal of 80 x 24."),
        Step(
            "calculus 2, pocket 5 mm mesial",
            ("104 calculus 2 pocket 5 mesial",),
            name="dog-finding",
            line="A finding: on the tooth, in the panel of the tooth in hand, and in the list.",
        ),
        Step(
            "instead of",
            ("correction, pocket 4",),
            name="dog-correction",
            line="A correction tells what it replaced.",
        ),
        Step(
            "Calculus index takes",
            ("next tooth", "calculus nine"),
            name="dog-refused",
            line="What cannot be true is refused, with the reason.",
        ),
        Step(
            "Replace by pocket 7 mm mesial?",
            (
                *("106 missing", "107 furcation 2", "108 calculus 3 pocket 6 distal", "109 CCF"),
                *("110 normal", "208 pocket 5 mesial", "208 pocket 7 mesial"),
            ),
            name="dog-question",
            line="A question on amber: what was heard, and what a yes would chart.",
        ),
        Step(
            "F2 YES charts 208",
            presses=("C-d",),
            name="dog-doubts",
            line="All questions that are open (^D), answered in any order.",
        ),
        Step("Nothing is asked", presses=("F2",)),
        Step(
            "208  pocket 7 mm mesial",
            presses=("C-f",),
            name="dog-findings",
            line="All findings (^F): searched, edited in place, taken back.",
        ),
        Step(
            "undo 1",
            presses=("C-l",),
            name="dog-changes",
            line="What undo would take back (^L), and redo put back.",
        ),
        Step("Find help", presses=("F1",)),
        Step(
            "furcation two",
            presses=(*"furcation",),
            name="dog-help",
            line="Help (F1), searched for a word.",
        ),
        Step(
            "Left to examine",
            presses=("Escape", "F7"),
            name="dog-plan",
            line="What follows (F7): what is left, stages, questions, proposals.",
        ),
        Step(
            "▀▀",
            presses=("Escape", "C-b"),
            name="dog-big",
            line="Big type (^B), to be read from across the room.",
        ),
        Step(
            "Reading speed",
            presses=("Escape", "C-s"),
            name="dog-settings",
            line="The settings (^S).",
        ),
        Step(
            "There is no earlier visit",
            presses=("Escape", "C-o"),
            name="dog-cases",
            line="The cases (^O), to look at.",
        ),
        Step("Close the chart as final", presses=("Escape", "C-k")),
        Step(
            "CHARTING: closed as final",
            presses=("F2",),
            name="dog-closed",
            line="The chart closed as final (^K, then yes).",
        ),
    ),
)
CAT = Visit(
    "Mirre",
    "cat",
    (120, 40),
    (
        Step(
            "said: right tonsil enlarged",
            ("go to soft tissue", "right tonsil enlarged"),
            name="cat-soft-tissue",
            line="Soft tissue, in a terminal of 120 x 40.",
        ),
        Step(
            "F furcation stage",
            (
                *("go to charting", "307 resorption 3", "407 missing", "109 gingivitis 2"),
                *("108 buccal 1 1 2", "108 palatal 1 1 3", "208 furcation 1", "404 CCF"),
            ),
            name="cat-chart",
            line="Charting: depths stand beside their tooth, and the legend explains each sign.",
        ),
        Step("Left to examine", presses=("F7",)),
        Step(
            "waits for a decision",
            presses=("NPage",),
            name="cat-plan",
            line="Proposals, for the clinician to decide.",
        ),
        Step("Type >", presses=("Escape",)),
        Step(
            "∪ext",
            ("go to treatment", "307 surgical extraction"),
            name="cat-treatment",
            line="Treatment: what was done is recorded, never advised.",
        ),
    ),
)
VISITS = (DOG, CAT)
