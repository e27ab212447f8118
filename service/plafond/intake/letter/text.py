"""A normalised copy of a letter, and the way back from it to the letter as it was written.

Takes raw text; gives `Text`: the copy with its case, the same in lower case for matching, and for
every stretch of the copy where it came from. Refuses to know what any word means.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from dataclasses import dataclass

_BLANKS = r" \t\xa0\u1680\u2000-\u200a\u202f\u205f\u3000"
#: Whatever is not copied as it stands: line ends, blanks, a possessive, a word cut at a line's
#: end, a letter with its accents, and any other character that is not plain ASCII.
_REWRITTEN = re.compile(
    rf"[{_BLANKS}]+(?=[\r\n]|\Z)|(?<=[\r\n])[{_BLANKS}]+|\r\n?|[\x0b\x0c\x1c-\x1e\x85\u2028\u2029]"
    rf"|[{_BLANKS}]{{2,}}"
    rf"|[{_BLANKS[1:]}]"
    r"|(?<=[A-Za-z])['\u2019\u02bc\uff07][sS](?![A-Za-z])"
    r"|(?<=[A-Za-z]-)\r?\n[ \t]*(?=[A-Za-z])"
    r"|[\x00-\x08\x0e-\x1b\x1f\x7f]"
    r"|[A-Za-z][\u0300-\u036f]+"
    r"|[^\x00-\x7f][\u0300-\u036f]*"
)
_BLANK = " \t\xa0\u1680\u202f\u205f\u3000" + "".join(map(chr, range(0x2000, 0x200B)))
_LINE_ENDS = "\r\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029"
_PLAIN = {
    "\u2018": "'", "\u2019": "'", "\u201a": "'", "\u201b": "'", "\u02bc": "'", "\u2032": "'",
    "\u201c": '"', "\u201d": '"', "\u201e": '"', "\u2033": '"',
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
    "\u00d7": "x", "\u2715": "x", "\u2a09": "x", "\u00ba": "\u00b0", "\u02da": "\u00b0",
    "\u2076": "^6", "\u2079": "^9", "\u00b3": "3", "\u2022": "\u2022", "\u25cf": "\u2022",
    "\u25aa": "\u2022", "\u25e6": "\u2022", "\u00b7": "\u2022", "\u2023": "\u2022",
    "\u25a0": "\u2022", "\uf0b7": "\u2022", "\u2028": "\n", "\u2215": "/", "\u2044": "/",
}  # fmt: skip
_HYPHEN = re.compile(r"(?<=[a-z0-9])-(?=[a-z])")
#: Three blanks or a tab may be the gap between two columns of a table.
_GAP = 3


@dataclass(frozen=True, slots=True)
class Text:
    """A normalised copy; `plain` and `low` have the same length, and `low` is for matching.

    `widest` is the length of the raw text's longest line.
    """

    plain: str
    low: str
    widest: int
    _starts: tuple[int, ...]
    _raw: tuple[tuple[int, int], ...]

    def raw(self, start: int, end: int) -> tuple[int, int]:
        """Return where in the raw text a stretch of the copy (never empty) came from."""
        return self._at(start)[0], self._at(end - 1)[1]

    def _at(self, index: int) -> tuple[int, int]:
        """Return the raw stretch that one character of the copy stands for."""
        piece = bisect_right(self._starts, index) - 1
        start, end = self._raw[piece]
        if end < 0:  # copied as it stands
            return start + index - self._starts[piece], start + index - self._starts[piece] + 1
        return start, end


def normalise(raw: str) -> Text:
    """Return the normalised copy of a text.

    Line ends become newlines, runs of blanks one blank (a tab where it may be a column's gap),
    quotes and dashes plain ones, compatibility characters their plain form (NFKC), letters lose
    their accents, and a possessive `'s` is dropped.
    """
    pieces: list[str] = []
    starts: list[int] = []
    sources: list[tuple[int, int]] = []
    length = last = 0

    def copy(piece: str, source: tuple[int, int]) -> None:
        nonlocal length
        if piece:
            pieces.append(piece)
            starts.append(length)
            sources.append(source)
            length += len(piece)

    for match in _REWRITTEN.finditer(raw):
        copy(raw[last : match.start()], (last, -1))
        if not _at_a_lines_edge(raw, match):
            copy(_rewrite(match[0]), match.span())
        last = match.end()
    copy(raw[last:], (last, -1))
    plain = "".join(pieces)
    widest = max((len(line.rstrip()) for line in raw.splitlines()), default=0)
    return Text(plain, lower(plain), widest, tuple(starts), tuple(sources))


def _at_a_lines_edge(raw: str, match: re.Match[str]) -> bool:
    """Say whether these are blanks at the beginning or the end of a line, which mean nothing."""
    if match[0][0] not in _BLANK:
        return False
    before, after = raw[match.start() - 1 : match.start()], raw[match.end() : match.end() + 1]
    return before in ("", "\n", "\r") or after in ("", "\n", "\r")


def _rewrite(found: str) -> str:
    first = found[0]
    if first in _LINE_ENDS:
        return "\n"
    if first in _BLANK:
        return "\t" if "\t" in found or len(found) >= _GAP else " "
    if first in "'\u2019\u02bc\uff07\n" or first < " " or first == "\x7f":
        return "" if first != "\u02bc" or len(found) > 1 else "'"
    if found in _PLAIN:
        return _PLAIN[found]
    spread = unicodedata.normalize("NFKD", found)
    kept = "".join(
        _PLAIN.get(char, char)
        for char in spread
        if not unicodedata.combining(char) and unicodedata.category(char) != "Cf"
    )
    return unicodedata.normalize("NFKC", kept)


def lower(plain: str) -> str:
    """Return a text of the same length for matching: lower case, hyphens inside words blank."""
    low = plain.lower()
    if len(low) != len(plain):
        low = "".join(char.lower() if len(char.lower()) == 1 else char for char in plain)
    return _HYPHEN.sub(" ", low).replace("\t", " ")


def fold(phrase: str) -> str:
    """Return a phrase of the knowledge as it would stand in the text to match."""
    return " ".join(normalise(phrase).low.split())
