"""The tables of the store; how they came to be stands in `migrations`."""

from __future__ import annotations

from sqlalchemy import ForeignKey, Index, Integer, String, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

# Text is in the same order everywhere, whatever the language of the database.
SORTED_TEXT = Text().with_variant(Text(collation="C"), "postgresql")
SORTED_ID = String(64).with_variant(String(64, collation="C"), "postgresql")


class Base(DeclarativeBase):
    """What the tables have in common."""


class CaseRow(Base):
    """A case: its document and the hash of it (None where an earlier version kept it), how many
    events it has, and what cases are searched by. All but the document are said a second time: what
    a disk damaged does not fit."""

    __tablename__ = "cases"
    id: Mapped[str] = mapped_column(SORTED_ID, primary_key=True)
    opened: Mapped[str] = mapped_column(String(40), index=True)
    document: Mapped[str] = mapped_column(Text)
    hash: Mapped[str | None] = mapped_column(String(64))
    last_event: Mapped[int] = mapped_column(Integer, server_default="0")
    opened_utc: Mapped[str] = mapped_column(SORTED_TEXT, index=True, server_default="")
    species: Mapped[str] = mapped_column(Text, server_default="")
    animal: Mapped[str] = mapped_column(Text, index=True, server_default="")
    clinician: Mapped[str] = mapped_column(Text, server_default="")
    searched: Mapped[str] = mapped_column(Text, server_default="")


class EventRow(Base):
    """An event: its document, its hash (dictate/integrity/chain.py), the delivery that it came
    with and the station that it came from; None in all three where an earlier version kept it."""

    __tablename__ = "events"
    __table_args__ = (Index("ix_events_delivery", "delivery"),)
    case_id: Mapped[str] = mapped_column(SORTED_ID, ForeignKey("cases.id"), primary_key=True)
    sequence: Mapped[int] = mapped_column(Integer, primary_key=True)
    document: Mapped[str] = mapped_column(Text)
    hash: Mapped[str | None] = mapped_column(String(64))
    delivery: Mapped[str | None] = mapped_column(String(32))
    station: Mapped[str | None] = mapped_column(String(32))
