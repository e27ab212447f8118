"""Whether a phrase counts where it stands: which part of the body is meant, which words are near.

Keeps the last part of the body the letter spoke of. Takes phrases in their sentence; gives yes or
no. Refuses to know sides, scopes and values.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence

from plafond.intake.letter.layout import ELSEWHERE, Layout
from plafond.intake.letter.lexicon import Hit, Lexicon, Word, holds, longest
from plafond.intake.letter.sentences import Sentence
from plafond.intake.letter.text import fold

_CLAUSE = re.compile(r"[,;:]|\b(?:but|and|with|also)\b")
_FAR = "elsewhere."


class Context:
    """Where the letter has got to: this sentence's parts of the body, and the last one named."""

    def __init__(self, lexicon: Lexicon, low: str) -> None:
        self.lexicon = lexicon
        self.low = low
        self.last: frozenset[str] = frozenset()
        self._parts: Sequence[Hit] = ()
        self._sentence_parts: Sequence[Hit] = ()
        self._starts: list[int] = []
        self._near: dict[tuple[str, ...], bool] = {}
        self._heading = ""
        self._heading_parts: frozenset[str] = frozenset()

    def enter(self, sentence: Sentence) -> None:
        """Go on to the next sentence."""
        if self._parts:
            self.last = _names(self._parts[-1])
        self._parts = ()
        self._near = {}
        heading = sentence.block.heading
        if heading != self._heading:
            self._heading = heading
            found = longest(hit for hit in self.lexicon.scan(fold(heading)) if _names(hit))
            self._heading_parts = frozenset(name for hit in found for name in _names(hit))

    def parts(self, parts: Sequence[Hit], sentence: Sentence) -> None:
        """Take note of the parts of the body that the sentence names."""
        self._sentence_parts = parts
        self._starts = [part.start for part in parts]
        if sentence.block.kind not in ELSEWHERE:
            self._parts = parts

    def near(self, words: tuple[str, ...], sentence: Sentence) -> bool:
        """Say whether one of some words stands in the sentence or in its heading."""
        if words not in self._near:
            heading = fold(self._heading)
            self._near[words] = any(
                holds(self.low, sentence.start, sentence.end, one)
                or holds(heading, 0, len(heading), one)
                for one in words
            )
        return self._near[words]

    def part_of(self, hit: Hit) -> frozenset[str]:
        """Return the part of the body that is meant where a phrase stands."""
        best: tuple[int, frozenset[str]] | None = None
        at = bisect_left(self._starts, hit.start)
        for part in self._sentence_parts[max(0, at - 2) : at + 2]:
            gap = max(part.start - hit.end, hit.start - part.end, 0)
            if gap:
                between = self.low[min(hit.end, part.end) : max(hit.start, part.start)]
                gap += 60 * len(_CLAUSE.findall(between))
            if best is None or gap < best[0]:
                best = gap, _names(part)
        if best is not None:
            return best[1]
        return self._heading_parts or self.last

    def elsewhere(self, end: int, parts: Sequence[Hit]) -> bool:
        """Say whether a side is that of a hip, a hand or another part far from the foot."""
        for part in parts:
            if part.start >= end:
                near = self.low.count(" ", end, part.start) <= 2
                return near and any(one.id.startswith(_FAR) for one in part.modifiers)
        before = [part for part in parts if part.end <= end]
        return bool(before) and any(one.id.startswith(_FAR) for one in before[-1].modifiers)


def _names(part: Hit) -> frozenset[str]:
    return frozenset(one.says for one in part.modifiers if one.does == "part")


def counts(word: Word, hit: Hit, sentence: Sentence, context: Context, layout: Layout) -> bool:
    """Say whether a phrase is meant as its finding where it stands."""
    if word.cased and layout.plain[hit.start : hit.end] != word.cased:
        return False
    if word.blocked:
        return True
    if word.at and not word.at & context.part_of(hit):
        return False
    if word.context and not context.near(word.context, sentence):
        return False
    if word.near and not context.near(word.near, sentence):
        return False
    if word.not_near:
        start, end = clause(layout.low, hit, sentence)
        return not any(holds(layout.low, start, end, one) for one in word.not_near)
    return True


def clause(low: str, hit: Hit, sentence: Sentence) -> tuple[int, int]:
    """Return the clause a phrase stands in: from comma to comma."""
    start = max(low.rfind(mark, sentence.start, hit.start) for mark in (",", ";", " but "))
    ends = [low.find(mark, hit.end, sentence.end) for mark in (",", ";", " but ")]
    return max(start, sentence.start), min((end for end in ends if end >= 0), default=sentence.end)


_YEAR = re.compile(r"(?<![\d/.-])(?P<year>(?:19|20)\d\d)(?![\d/-])")
#: What goes on since something happened is not over.
_ONSET = re.compile(r"\b(?:since|following|after|from)\b")
_NOT_A_PAST = re.compile(r"\b(?:since|from|dated|letter|referral|for|until|to)\s+(?:\w+\s+)?$")
_SEEN = re.compile(
    r"\b(?:mri|ct|x ray|x rays|xray|xr|scans?|ultrasound|uss|films?|radiographs?|seen|reviewed"
    r"|reports?)\b"
)


def dated(low: str, start: int, end: int) -> bool:
    """Say whether a sentence names a year of what happened; seen on a film, it dates the film."""
    return bool(_YEAR.search(low, start, end)) and not _SEEN.search(low, start, end)


def year_of(low: str, start: int, end: int, hit: Hit) -> int:
    """Return the year that the clause of a phrase says it happened in, or 0."""
    begin = max(low.rfind(mark, start, hit.start) for mark in (",", ";"))
    stops = [low.find(mark, hit.end, end) for mark in (",", ";")]
    stop = min((at for at in stops if at >= 0), default=end)
    for match in _YEAR.finditer(low, max(begin, start), min(stop + 6, end)):
        since = _ONSET.search(low, hit.end, match.start())
        if since is None and not _NOT_A_PAST.search(low, start, match.start()):
            return int(match["year"])
    return 0
