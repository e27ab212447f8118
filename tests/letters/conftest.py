"""The reader, with the small vocabulary that its tests share."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from plafond.intake.letter import Letter, Lexicon, read_letter
from wordings import WRITTEN, lines, small_lexicon


@pytest.fixture(scope="session")
def lexicon() -> Lexicon:
    """The small vocabulary under the modifiers of the knowledge."""
    return small_lexicon()


@pytest.fixture(scope="session")
def read(lexicon) -> Callable[[str], Letter]:
    """Read a text as a letter of 2 March 2026."""
    return lambda text: read_letter(text, lexicon, written=WRITTEN)


@pytest.fixture(scope="session")
def said(read) -> Callable[[str], set[str]]:
    """Return what a text says, one line a mention."""
    return lambda text: lines(read(text))
