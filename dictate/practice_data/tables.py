"""The tables of practice data and what each column says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Cell: TypeAlias = str | int | float | bool | None
Row: TypeAlias = tuple[Cell, ...]
TableName = Literal["cases", "teeth", "findings", "observations"]


@dataclass(frozen=True)
class Column:
    """A column: its name, its type in SQL, and what it says; `identity` where it is there only
    when identity was asked for."""

    name: str
    type: Literal["VARCHAR", "INTEGER", "DOUBLE", "BOOLEAN"]
    words: str
    identity: bool = False


_VISIT = Column("visit", "VARCHAR", "a random name of the visit, another one at every export")

_TABLES: dict[TableName, tuple[Column, ...]] = {
    "cases": (
        _VISIT,
        Column("species", "VARCHAR", "dog or cat"),
        Column("breed", "VARCHAR", "as entered, in the most frequent spelling; empty: not stated"),
        Column("age_group", "VARCHAR", "years completed: under 1, 1 to 2, 3 to 5, … 12 and over"),
        Column("age_from", "INTEGER", "the first year of the age group, to sort by"),
        Column("sex", "VARCHAR", "male, female or unknown"),
        Column("neutered", "BOOLEAN", "empty: not stated"),
        Column("weight_kg", "DOUBLE", "kg, to the nearest half"),
        Column("month", "VARCHAR", "the month of the visit, such as 2026-05"),
        Column("dentition", "VARCHAR", "permanent, deciduous or mixed"),
        Column("index_scale", "INTEGER", "top grade of calculus, plaque and gingivitis: 3 or 4"),
        Column("teeth_examined", "INTEGER", "how many of the expected teeth were examined"),
        Column("gravest_stage", "INTEGER", "the gravest periodontal stage of a tooth, 0 to 4"),
        Column("case_id", "VARCHAR", "the id of the case", identity=True),
        Column("animal", "VARCHAR", "the animal’s name", identity=True),
        Column("owner_reference", "VARCHAR", "the owner reference", identity=True),
        Column("clinician", "VARCHAR", "who examined", identity=True),
        Column("opened", "VARCHAR", "when the case was opened (ISO 8601)", identity=True),
        Column("birth_date", "VARCHAR", "the day of birth", identity=True),
        Column("age_years", "DOUBLE", "the age in years", identity=True),
    ),
    "teeth": (
        _VISIT,
        Column("tooth", "INTEGER", "by the modified Triadan system"),
        Column("state", "VARCHAR", "present, missing, unerupted, extracted (in this visit), or "
               "unknown: nobody examined it, or only a root is charted"),
        Column("stage", "INTEGER", "the periodontal stage, 0 to 4; empty: none"),
        Column("provisional", "BOOLEAN", "whether something not measured could make it graver"),
    ),
    "findings": (
        _VISIT,
        Column("tooth", "INTEGER", "by the modified Triadan system"),
        Column("section", "VARCHAR", "charting, radiographs or treatment"),
        Column("kind", "VARCHAR", "the name in docs/findings.md, such as pocket or calculus"),
        Column("value", "DOUBLE", "a grade, a length or a percentage (see unit)"),
        Column("term", "VARCHAR", "an abbreviation, such as CCF, where it is no number"),
        Column("unit", "VARCHAR", "mm or %; empty: a grade or a term"),
        Column("site", "VARCHAR", "the one name of the site: buccal for labial too, palatal for "
               "lingual"),
        Column("stage", "INTEGER", "the periodontal stage of the tooth at this visit"),
    ),
    "observations": (
        _VISIT,
        Column("section", "VARCHAR", "head, mouth, soft_tissue, radiographs or treatment"),
        Column("kind", "VARCHAR", "what was observed, such as mass"),
        Column("value", "DOUBLE", "a grade"),
        Column("term", "VARCHAR", "such as normal or enlarged"),
        Column("place", "VARCHAR", "such as left"),
        Column("tooth", "INTEGER", "the tooth that it lies at"),
        Column("length_mm", "DOUBLE", "mm"),
        Column("width_mm", "DOUBLE", "mm"),
        Column("colour", "VARCHAR", "the colour that was stated"),
        Column("surface", "VARCHAR", "the surface that was stated"),
        Column("agent", "VARCHAR", "what was given"),
        Column("volume_ml", "DOUBLE", "mL"),
        Column("covered", "BOOLEAN", "not stated by itself, but covered by “normal”"),
    ),
}  # fmt: skip

TABLE_NAMES: tuple[TableName, ...] = tuple(_TABLES)


def columns_of(table: TableName, with_identity: bool = False) -> tuple[Column, ...]:
    """Return the columns of a table, those that identify only where that is asked for."""
    return tuple(each for each in _TABLES[table] if with_identity or not each.identity)


def tables_text() -> str:
    """Return the tables and their columns as Markdown, as docs/practice_data.md has them at its
    end."""
    parts = []
    for name in TABLE_NAMES:
        rows = "".join(
            f"| `{each.name}` | {each.type.lower()} | {each.words}"
            f"{' (with identity only)' if each.identity else ''} |\n"
            for each in columns_of(name, with_identity=True)
        )
        parts.append(f"### {name}\n\n| column | type | says |\n|---|---|---|\n{rows}")
    return "\n".join(parts)
