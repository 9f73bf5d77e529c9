"""What happened in an examination: the events that a chart is folded from."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from dictate.chart.finding import Finding

Outcome = Literal["charted", "query", "refused"]


class _Happening(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Heard(_Happening):
    """An utterance and what became of it. Times in s from the start of its source; `score` from
    0 to 1, None for typed text; `statements` as plain data, as the command line prints them;
    `rule` names the rule of the chart that stood against it, if one did."""

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


class ToothChosen(_Happening):
    """A tooth was taken in hand."""

    event: Literal["tooth"] = "tooth"
    tooth: int


class Skipped(_Happening):
    """A tooth was passed over."""

    event: Literal["skipped"] = "skipped"
    tooth: int


class Charted(_Happening):
    """Findings were added; those they replace are named with them."""

    event: Literal["charted"] = "charted"
    findings: tuple[Finding, ...]
    replaced: tuple[Finding, ...] = ()


class Undone(_Happening):
    """What utterance number `of` had charted was taken back."""

    event: Literal["undone"] = "undone"
    of: int


class Redone(_Happening):
    """What utterance number `of` had charted was put back."""

    event: Literal["redone"] = "redone"
    of: int


class Settled(_Happening):
    """The doubt about utterance number `of` was settled by a person or by a clear repeat."""

    event: Literal["settled"] = "settled"
    of: int
    answer: Literal["confirmed", "rejected", "repeated"]


Happening = Annotated[
    Heard | ToothChosen | Skipped | Charted | Undone | Redone | Settled,
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
