"""How long does a letter take to read? Reported, not asserted; run by name."""

from __future__ import annotations

import pytest

from plafond.intake.letter import Lexicon, read_letter
from wordings import LETTERS

TEXT = "\n\n".join(LETTERS.values()).replace("%%", "")


@pytest.fixture(scope="module")
def lexicon(rulebook) -> Lexicon:
    """The whole lexicon of the knowledge."""
    return Lexicon.of(rulebook)


@pytest.mark.parametrize("size", [4_000, 200_000], ids=["4 kB", "200 kB"])
def test_reading_a_letter(benchmark, lexicon, size):
    text = (TEXT * (size // len(TEXT) + 1))[:size]
    letter = benchmark(read_letter, text, lexicon)
    assert letter.mentions


def test_building_the_lexicon(benchmark, rulebook):
    assert benchmark(Lexicon.of, rulebook).fuzzy
