"""The words of each document, compared with those that a person has read.

`python -m tests.documents` writes tests/documents_expected anew; read what it changes.
"""

import pytest

from tests.documents import EXPECTED, golden_texts


@pytest.fixture(scope="module")
def written():
    return golden_texts()


@pytest.mark.parametrize("name", ["record.txt", "letter.md", "sheet.md"])
def test_a_document_says_what_was_read_and_agreed(written, name):
    assert written[name] == (EXPECTED / name).read_text(encoding="utf-8")
