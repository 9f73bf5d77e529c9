"""Whose mouth it is and the moments of a visit, in words."""

from __future__ import annotations

from datetime import datetime

from dictate.chart.case import Case, Dentition


def moment(time: datetime) -> str:
    """Return a time with its date and zone, such as "2026-05-04 10:02:16 UTC+02:00"."""
    offset = time.strftime("%z")
    zone = f"UTC{offset[:3]}:{offset[3:5]}" if offset else "(no zone stated)"
    return f"{time:%Y-%m-%d %H:%M:%S} {zone}"


def identity_lines(case: Case, dentition: Dentition) -> list[tuple[str, str]]:
    """Return what is stated of animal, owner and visit, each with its label; the age in years
    is that on the day of opening, the weight is in kg. The `dentition` is named where it was stated
    or is not the permanent one."""
    sex = case.sex if case.sex != "unknown" else ""
    neutered = {None: "", True: "neutered", False: "not neutered"}[case.neutered]
    age = "" if case.age is None else f"{case.age:.1f} years".replace(".0 ", " ")
    born = f", born {case.birth_date}" if case.birth_date else ""
    told = "dentition" in case.model_fields_set or dentition != "permanent"
    lines = (
        ("Breed", case.breed),
        ("Sex", ", ".join(part for part in (sex, neutered) if part)),
        ("Age", age + born),
        ("Weight", "" if case.weight_kg is None else f"{case.weight_kg:g} kg"),
        ("Short-nosed", {None: "", True: "yes", False: "no"}[case.short_nosed]),
        ("Dentition", dentition if told else ""),
        ("Owner reference", case.owner_reference),
        ("Assistant", case.assistant),
        ("Reason for visit", case.reason),
    )
    return [line for line in lines if line[1]]
