"""The paper that pages are printed on."""

from __future__ import annotations

from typing import Literal, TypeAlias

Paper: TypeAlias = Literal["a4", "letter"]

CSS_SIZES: dict[Paper, str] = {"a4": "A4", "letter": "letter"}
"""The paper as a style sheet names it."""
