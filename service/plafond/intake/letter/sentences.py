"""Cuts blocks of running text into sentences.

Takes the layout; gives stretches of it. A full stop ends no sentence after an abbreviation or a
number, and ends one even where the blank after it is missing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from plafond.intake.letter.layout import Block, Layout
from plafond.intake.letter.lexicon import Lexicon

LONGEST = 1200
_STOP = re.compile(
    r"(?:[.!]+|(?<=[\w)\]}\"'])\?+)[)\]}\"']*(?=\s|$)"  # not "? this", which asks of what follows
    r"|(?<=[a-z\])]{3})\.(?=[A-Za-z]{3})"  # an end with the blank left out
    r"|(?<=[a-z]{2}),?\.(?=[A-Z])"
    r"|;"
    r"|\n"
)
_LAST_WORD = re.compile(r"[a-z0-9.&/]*$")
_SIDE_STOP = re.compile(r"(?:^|\b(?:on|in|the|of|to|over|at|and|&|than|is|both)\s+|[(>=<]\s*)[lr]$")
_NUMBER = re.compile(r"\s*\d")


@dataclass(frozen=True, slots=True)
class Sentence:
    """A stretch of the copy that says one thing, and the block it stands in."""

    start: int
    end: int
    block: Block


def sentences(layout: Layout, lexicon: Lexicon) -> Iterator[Sentence]:
    """Yield every sentence of the running text, in order."""
    for block in layout.blocks:
        start = block.start
        for match in _STOP.finditer(layout.low, block.start, block.end):
            if match[0] == "." and not _ends(layout.low, block.start, match, lexicon):
                continue
            yield from _sentence(layout, start, match.end(), block)
            start = match.end()
        yield from _sentence(layout, start, block.end, block)


def _sentence(layout: Layout, start: int, end: int, block: Block) -> Iterator[Sentence]:
    while start < end:
        while start < end and layout.low[start].isspace():
            start += 1
        stop = end
        if end - start > LONGEST:  # no modifier reaches that far; and work stays linear
            stop = layout.low.rfind(" ", start + 1, start + LONGEST) + 1 or start + LONGEST
        if start < stop:
            yield Sentence(start, stop, block)
        start = stop


def _ends(low: str, begin: int, stop: re.Match[str], lexicon: Lexicon) -> bool:
    """Say whether a full stop ends a sentence."""
    at = stop.start()
    found = _LAST_WORD.search(low, max(begin, at - 24), at)
    word = found[0] if found else ""
    if word in lexicon.abbreviations:
        # "No." is a number's sign only before a number; else it is the answer no.
        return word == "no" and _NUMBER.match(low, stop.end()) is None
    if len(word) == 1 and word.isalpha():
        return word in "lr" and _SIDE_STOP.search(low, max(begin, at - 12), at) is not None
    # a numbered list's number, at the very start
    return not (word.isdigit() and not low[begin : at - len(word)].strip())
