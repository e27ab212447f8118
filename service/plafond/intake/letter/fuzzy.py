"""Misspelled words that are meant for a phrase of a finding, under six strict rules.

A word is taken for another only if (a) it is neither English nor in the lexicon, (b) it begins
with the same letter, (c) one letter differs (two swapped letters are one difference), two only in
words of eleven letters or more, (d) it has six letters or more and is meant for no drug's name,
(e) what it leads to is marked fuzzy, so that it may raise and never settle, and (f) a known
misspelling belongs into the lexicon instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

from rapidfuzz import process
from rapidfuzz.distance import OSA

from plafond.intake.letter.lexicon import Hit, Lexicon

SHORTEST, LONG = 6, 11
_TOKEN = re.compile(r"[a-z]{6,24}(?![a-z])")
#: How much of the text around a corrected word a phrase may take up.
_AROUND = 60


@cache
def english() -> frozenset[str]:
    """Return the English words of six letters or more that a frequency list holds."""
    listed = files("symspellpy").joinpath("frequency_dictionary_en_82_765.txt")
    text = listed.read_text(encoding="utf-8-sig")
    words = (line.partition(" ")[0] for line in text.splitlines())
    return frozenset(word for word in words if len(word) >= SHORTEST and word.isalpha())


def misspelled(low: str, lexicon: Lexicon) -> Iterator[Hit]:
    """Yield the phrases of findings that stand in a text but for one misspelled word."""
    words = english()
    for match in _TOKEN.finditer(low):
        token = match[0]
        if match.start() and low[match.start() - 1].isalnum():
            continue
        if token in words or _known(token, lexicon):
            continue
        meant = _meant(token, lexicon)
        if meant:
            yield from _phrases(low, match.start(), match.end(), meant, lexicon)


def _known(token: str, lexicon: Lexicon) -> bool:
    known = lexicon.vocables
    return token in known or token.removesuffix("s") in known or token.removesuffix("es") in known


def _meant(token: str, lexicon: Lexicon) -> str:
    """Return the word of the lexicon that this one is meant for, or nothing."""
    candidates = lexicon.fuzzy.get(token[0], ())
    cutoff = 2 if len(token) >= LONG else 1
    found = process.extractOne(token, candidates, scorer=OSA.distance, score_cutoff=cutoff)
    return str(found[0]) if found else ""


def _phrases(low: str, start: int, end: int, meant: str, lexicon: Lexicon) -> Iterator[Hit]:
    begin, stop = max(0, start - _AROUND), min(len(low), end + _AROUND)
    corrected = low[begin:start] + meant + low[end:stop]
    at, after = start - begin, start - begin + len(meant)
    for hit in lexicon.scan(corrected):
        if hit.start <= at and hit.end >= after:
            words = tuple(word for word in hit.words if not word.finding.letter.exact)
            if words:
                tail = hit.end - after
                yield Hit(begin + hit.start, end + tail, words, (), "fuzzy")
