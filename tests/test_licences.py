"""Nothing is used whose licence is unknown or would bind the practice or dictate."""

from email.message import Message
from pathlib import Path

import pytest

from tests.licences import Row, UnknownLicenceError, licence_of, rows, table


def said(**fields: str) -> Message:
    message = Message()
    for name, value in fields.items():
        message[name.replace("_", "-")] = value
    return message


def test_every_package_has_an_accepted_licence() -> None:
    assert not [(row.name, row.licence) for row in rows() if not row.accepted]


def test_the_page_is_the_one_that_the_locks_and_the_metadata_make() -> None:
    made = table()
    assert Path("docs/licences.md").read_text() == made, (
        "make it again: python -m tests.licences docs/licences.md"
    )


@pytest.mark.parametrize("licence", ["MIT", "Apache-2.0 OR GPL-3.0-only", "MPL-2.0 AND MIT"])
def test_permissive_and_library_licences_are_accepted(licence: str) -> None:
    assert Row("a", ("1",), licence, "running").accepted


@pytest.mark.parametrize(
    "licence",
    ["GPL-3.0-or-later", "AGPL-3.0-only", "MIT AND GPL-2.0-only", "Proprietary", "UNKNOWN"],
)
def test_any_other_licence_is_not_accepted(licence: str) -> None:
    assert not Row("a", ("1",), licence, "running").accepted


def test_a_package_that_says_nothing_fails() -> None:
    with pytest.raises(UnknownLicenceError, match="does not say its licence"):
        licence_of("quiet", said(License="UNKNOWN"))
    with pytest.raises(UnknownLicenceError):
        licence_of("silent", said())
    with pytest.raises(UnknownLicenceError):
        licence_of("copyleft", said(Classifier="License :: GNU General Public License v3 (GPLv3)"))


def test_the_expression_goes_before_the_classifier() -> None:
    message = said(License_Expression="GPL-3.0-only", Classifier="License :: MIT License")
    assert licence_of("two", message) == "GPL-3.0-only"
    assert licence_of("old", said(Classifier="License :: OSI Approved :: MIT License")) == "MIT"
