"""The parts of a visit, as the screen names them and what may be said in each."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.chart.events import CONTEXTS, GO_TO_NAMES, Context


@dataclass(frozen=True)
class Part:
    """A part of the visit: its title, what is said to go to it, what the line asks for while
    nobody speaks, and one phrase as an example."""

    title: str
    go_to: str
    idle: str
    example: str


def go_to(context: Context) -> str:
    """Return what is said to go to a part of the visit."""
    return f"go to {GO_TO_NAMES[context]}"


PARTS: dict[Context, Part] = {
    "awake": Part(
        "Awake examination",
        go_to("awake"),
        "say what you see of head and mouth",
        "left lymph node enlarged",
    ),
    "soft_tissue": Part(
        "Soft tissue",
        go_to("soft_tissue"),
        "say what you see of the soft tissues",
        "left tonsil enlarged",
    ),
    "charting": Part(
        "Charting", go_to("charting"), "say a tooth or a finding", "208 pocket five mesial"
    ),
    "radiographs": Part(
        "Radiographs",
        go_to("radiographs"),
        "say a view, or a tooth and what its radiograph shows",
        "208 periapical lucency",
    ),
    "treatment": Part(
        "Treatment",
        go_to("treatment"),
        "say a block, or a tooth and what was done",
        "208 extracted",
    ),
}

SAY_THE_NOTE = "say the note now, in any words"
TYPED_NOTE = "note: and then its words"
TO_REOPEN = "open the chart again"


def example_of(context: Context, takes_note: bool, closed: bool) -> str:
    """Return an example of what could be typed next."""
    if closed:
        return TO_REOPEN
    return TYPED_NOTE if takes_note else PARTS[context].example


def waiting_line(said_to_resume: str) -> str:
    """Return what the line says while the tool does not listen."""
    return f"say “{said_to_resume}”, or F5"


def next_part(context: Context) -> Context:
    """Return the part that follows in a visit; the first follows the last."""
    return CONTEXTS[(CONTEXTS.index(context) + 1) % len(CONTEXTS)]
