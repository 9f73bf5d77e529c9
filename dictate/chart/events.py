"""What happened in an examination: the events that a chart is folded from."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from dictate.chart.case import Dentition
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation

Outcome = Literal["charted", "query", "refused"]

Context = Literal["awake", "soft_tissue", "charting", "radiographs", "treatment"]
"""The parts of a visit. Each is a context: what can be said in it is a small grammar of its own."""

CONTEXTS: tuple[Context, ...] = get_args(Context)

GO_TO_NAMES: dict[Context, str] = {
    "awake": "awake examination",
    "soft_tissue": "soft tissue",
    "charting": "charting",
    "radiographs": "radiographs",
    "treatment": "treatment",
}
"""What is said after “go to” (grammars/commands.jsgf)."""

Decision = Literal["accepted", "changed", "dismissed"]
"""What a clinician made of a proposal."""


class _Happening(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Alternative(_Happening):
    """What may have been said instead of what is asked about: the words, and the statements as
    plain data with their teeth."""

    text: str
    statements: tuple[dict[str, Any], ...]


class Heard(_Happening):
    """An utterance and what became of it. Times in s from the start of its source; `score` from
    0 to 1, None for typed text; `statements` as plain data, as the command line prints them;
    `rule` names the rule of the chart that stood against it, if one did.

    `alternatives` are what may have been said instead, the likeliest first. Where only a part of
    an utterance is asked about, that part is a Heard of its own, with the words of the part, and
    `part_of` is the number of the utterance, whose other statements are charted."""

    event: Literal["heard"] = "heard"
    text: str
    outcome: Outcome
    reason: str | None = None
    rule: str | None = None
    statements: tuple[dict[str, Any], ...] = ()
    file: str | None = None
    start_s: float | None = None
    end_s: float | None = None
    engine: str = "keyboard"
    score: float | None = None
    alternatives: tuple[Alternative, ...] = ()
    part_of: int | None = None


class ToothChosen(_Happening):
    """A tooth was taken in hand."""

    event: Literal["tooth"] = "tooth"
    tooth: int


class TeethChosen(_Happening):
    """Several teeth were taken in hand at once: a range, or a part of the mouth."""

    event: Literal["teeth"] = "teeth"
    teeth: tuple[int, ...] = Field(min_length=1)


class Skipped(_Happening):
    """A tooth was passed over."""

    event: Literal["skipped"] = "skipped"
    tooth: int


class Charted(_Happening):
    """Findings were added; those they replace are named with them."""

    event: Literal["charted"] = "charted"
    findings: tuple[Finding, ...]
    replaced: tuple[Finding, ...] = ()


class Observed(_Happening):
    """Observations were added; those they replace are named with them."""

    event: Literal["observed"] = "observed"
    observations: tuple[Observation, ...]
    replaced: tuple[Observation, ...] = ()


class ContextChosen(_Happening):
    """Another part of the visit was begun."""

    event: Literal["context"] = "context"
    context: Context


class DentitionChosen(_Happening):
    """The dentition was stated."""

    event: Literal["dentition"] = "dentition"
    dentition: Dentition


class Noted(_Happening):
    """A note: `tooth` was in hand, None where none was. A spoken one has its sound in `clip` (a
    file name in the folder of clips), and `text` is what an engine made of it, not `verified`;
    a typed one is as it was typed."""

    event: Literal["noted"] = "noted"
    text: str
    tooth: int | None = None
    clip: str | None = None
    verified: bool = False


class Decided(_Happening):
    """A clinician decided on the proposal that `rule` makes for a tooth; `text` is what is to be
    done, as it was proposed or changed, "" where it was dismissed."""

    event: Literal["decided"] = "decided"
    tooth: int
    rule: str
    decision: Decision
    text: str = ""


class Undone(_Happening):
    """What utterance number `of` had charted was taken back."""

    event: Literal["undone"] = "undone"
    of: int


class Redone(_Happening):
    """What utterance number `of` had charted was put back."""

    event: Literal["redone"] = "redone"
    of: int


class Settled(_Happening):
    """The doubt about utterance number `of` was settled by a person or by a clear repeat. `chosen`
    is which of its readings was meant: 2 the first of its alternatives, 3 the second; None what
    was heard, or none of them where it was rejected."""

    event: Literal["settled"] = "settled"
    of: int
    answer: Literal["confirmed", "rejected", "repeated"]
    chosen: int | None = Field(default=None, ge=2)


class Seal(_Happening):
    """A signature over the hash of all that came before a closing (dictate/integrity): all three
    in hexadecimal digits, `key` the public key of the station."""

    head: str = Field(pattern=r"^[0-9a-f]{64}$")
    key: str = Field(pattern=r"^[0-9a-f]{64}$")
    signature: str = Field(pattern=r"^[0-9a-f]{128}$")


class Closed(_Happening):
    """The chart was closed as final, in the name of the clinician `by`, "" where none is stated,
    and sealed where the station could."""

    event: Literal["closed"] = "closed"
    by: str = ""
    seal: Seal | None = None


class Reopened(_Happening):
    """A chart that was closed as final was opened again: what follows is an addendum."""

    event: Literal["reopened"] = "reopened"


Happening = Annotated[
    Heard
    | ToothChosen
    | TeethChosen
    | Skipped
    | Charted
    | Observed
    | ContextChosen
    | DentitionChosen
    | Noted
    | Decided
    | Undone
    | Redone
    | Settled
    | Closed
    | Reopened,
    Field(discriminator="event"),
]


class Event(BaseModel):
    """A happening at its place in the examination.

    `sequence` counts from 1 without gaps; `utterance` is the number of the utterance that caused
    it (the sequence number of its Heard event): all that one utterance charted is undone at
    once. `time` has a time zone.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    sequence: int = Field(ge=1)
    utterance: int = Field(ge=1)
    time: AwareDatetime
    what: Happening
