"""What is kept at once: the events of one utterance, with an id that is theirs alone."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import uuid4

from pydantic import BaseModel, ConfigDict, Field

from dictate.chart.events import Event


class Delivery(BaseModel):
    """The events of one utterance on their way to the store. However often it is delivered, it is
    kept once: `id` tells."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    id: str = Field(pattern=r"^[0-9a-f]{32}$")
    events: tuple[Event, ...] = Field(min_length=1)


def delivery_of(events: Sequence[Event]) -> Delivery:
    """Return events as a delivery with a new id."""
    return Delivery(id=uuid4().hex, events=tuple(events))
