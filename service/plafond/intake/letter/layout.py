"""How a letter lies on the page: headings, bullets, wrapped lines, tables of left and right.

Takes the normalised text; gives blocks of running text, each with the kind of its section and the
side its heading names, and the cells of tables. Refuses to know any finding.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from plafond.intake.letter.lexicon import Lexicon
from plafond.intake.letter.text import Text

#: No wider line is taken for a line that was wrapped by hand, and none narrower for a full one.
WIDEST, NARROWEST = 130, 45
#: Kinds that speak of something else than today's complaint: any other heading, or a blank line,
#: ends them, so that nothing below is read as a relative's or as long past.
ELSEWHERE = ("family", "past", "goal", "allergies", "reference")
_BULLET = re.compile(
    r"[ \t]*(?:[-*\u2022>o][ \t]+|-(?=[A-Za-z0-9])(?!ve\b)"
    r"|\(?\d{1,2}[.)](?:[ \t]+|(?=[A-Z]))|\(?[a-z]\)[ \t]+)"
)
_LABEL = re.compile(r"[ \t]*(?:\d{1,2}[.)][ \t]*)?([A-Za-z?][^:\n\t|]{0,58}?)[ \t]*:(?!\d)[ \t]*")
_DASHED = re.compile(r"[ \t]*([A-Za-z][A-Za-z/& ]{0,40}?)[ \t]+-[ \t]+")
_DANGLING = re.compile(
    r"(?:\b(?:of|the|and|no|not|with|without|a|an|in|to|for|on|or|his|her|is|was|any|by|at)|,)$"
)
_WORD = re.compile(r"[a-z0-9]+")
_SIDES = {
    "left": "left", "lt": "left", "l": "left", "right": "right", "rt": "right", "r": "right",
    "both": "both", "bilateral": "both",
}  # fmt: skip
_BODY = frozenset(
    [
        "ankle",
        "ankles",
        "foot",
        "feet",
        "heel",
        "leg",
        "legs",
        "hindfoot",
        "forefoot",
        "midfoot",
        "achilles",
        "calf",
        "tendon",
        "side",
        "toe",
        "hallux",
        "lower",
        "limb",
        "the",
        "on",
        "of",
        "examination",
        "exam",
        "findings",
        "hand",
    ]
)


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch under one heading: its kind and its title, offsets in the copy."""

    kind: str
    title: str
    start: int
    end: int


@dataclass(slots=True)
class Block:
    """Running text that no sentence crosses; `heading` is what stands over it, in lower case."""

    start: int
    end: int
    kind: str = "complaint"
    side: str = ""
    heading: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table: where its row's label and its own text stand, and its column's side."""

    label: tuple[int, int]
    start: int
    end: int
    side: str
    block: Block


@dataclass(slots=True)
class Layout:
    """What lies where: `low` is the text to match with soft line ends made blanks."""

    plain: str
    low: str
    blocks: list[Block] = field(default_factory=list)
    cells: list[Cell] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)


@dataclass(slots=True)
class _Line:
    start: int
    end: int
    text: str
    bullet: int = 0

    @property
    def blank(self) -> bool:
        return not self.text.strip(" \t|-_=*")


def lay_out(text: Text, lexicon: Lexicon) -> Layout:
    """Return the layout of a letter."""
    lines = list(_lines(text.plain))
    joins = _joins(lines, text.widest, lexicon)
    plain, low = list(text.plain), list(text.low)
    for index in joins:
        plain[lines[index].end] = low[lines[index].end] = " "
    layout = Layout("".join(plain), "".join(low))
    _Walk(layout, lexicon).run(list(_merged(lines, joins)))
    return layout


def _lines(plain: str) -> Iterator[_Line]:
    start = 0
    for piece in plain.split("\n"):
        bullet = _BULLET.match(piece)
        yield _Line(start, start + len(piece), piece, bullet.end() if bullet else 0)
        start += len(piece) + 1


def _joins(lines: list[_Line], widest: int, lexicon: Lexicon) -> set[int]:
    """Return the lines whose end is soft: the next one goes on where they were wrapped."""
    wrapped = NARROWEST <= widest <= WIDEST
    found = set()
    for index in range(len(lines) - 1):
        line, after = lines[index], lines[index + 1]
        if line.blank or after.blank or after.bullet or _columns(line) or _columns(after):
            continue
        if _is_title(line.text, lexicon) or _opens(after.text, lexicon):
            continue
        text, next_text = line.text.rstrip(), after.text.strip()
        first = next_text.split(" ", 1)[0]
        full = wrapped and len(text) + 1 + len(first) > widest
        going_on = next_text[0].islower() and text[-1] not in ".:;!?"
        dangling = _DANGLING.search(text.lower()) is not None
        if (
            full
            or (going_on and (dangling or len(text) >= NARROWEST))
            or (dangling and len(text) > 20)
        ):
            found.add(index)
    return found


def _columns(line: _Line) -> bool:
    return len(_cells(line.text)) > 1


def _cells(text: str) -> list[tuple[int, int]]:
    """Return where the cells of a line stand, if it has columns."""
    if "\t" not in text.strip() and "|" not in text:
        return []
    return [match.span() for match in re.finditer(r"[^\t|]*[^\t|\s][^\t|]*", text)]


def _merged(lines: list[_Line], joins: set[int]) -> Iterator[_Line]:
    index = 0
    while index < len(lines):
        first = last = index
        while last in joins:
            last += 1
        if last == first:
            yield lines[first]
        else:
            text = " ".join(line.text for line in lines[first : last + 1])
            yield _Line(lines[first].start, lines[last].end, text, lines[first].bullet)
        index = last + 1


def _is_title(text: str, lexicon: Lexicon) -> bool:
    """Say whether a line is a heading and nothing else."""
    bare = text.strip(" \t:-*#_=")
    return (
        bool(bare)
        and len(bare) <= 60
        and (text.rstrip().endswith(":") or _kind(bare, lexicon) != "" or _side_title(bare) != "")
    )


def _opens(text: str, lexicon: Lexicon) -> bool:
    """Say whether a line begins with a heading."""
    if _is_title(text, lexicon):
        return True
    label = _LABEL.match(text) or _DASHED.match(text)
    return label is not None and (
        len(_WORD.findall(label[1].lower())) <= 4
        or _kind(label[1], lexicon) != ""
        or _side_title(label[1]) != ""
    )


def _kind(title: str, lexicon: Lexicon) -> str:
    """Return the kind of section a title opens, or nothing."""
    words = " ".join(title.lower().replace("'s", "").split())
    known = lexicon.headings.get(words)
    if known is None and words.replace("-", " ") != words:
        known = lexicon.headings.get(words.replace("-", " "))
    if known is None:
        tokens = [word for word in _WORD.findall(words) if word not in _SIDES and word not in _BODY]
        tokens = [word for word in tokens if not word.isdigit()]
        known = lexicon.headings.get(" ".join(tokens)) if tokens else None
    return known or ""


def _side_title(title: str) -> str:
    """Return the side a title names that names a part of the body and nothing more."""
    words = _WORD.findall(title.lower())
    sides = {_SIDES[word] for word in words if word in _SIDES}
    if len(sides) == 1 and len(words) <= 5 and all(w in _SIDES or w in _BODY for w in words):
        return sides.pop()
    return ""


def _side_in(title: str) -> str:
    sides = {_SIDES[word] for word in _WORD.findall(title.lower()) if word in _SIDES}
    return sides.pop() if len(sides) == 1 else ""


class _Walk:
    """One walk down the page: which section and which side the next line belongs to."""

    def __init__(self, layout: Layout, lexicon: Lexicon) -> None:
        self.layout = layout
        self.lexicon = lexicon
        self.kind = "complaint"
        self.side = ""
        self.heading = ""
        self.opened = 0
        self.title = ""
        self.filled = False
        self.columns: list[str] = []

    def run(self, lines: list[_Line]) -> None:
        for line in lines:
            if line.blank:
                self._blank(line)
            elif not self._table(line):
                self._line(line)
        self._close(len(self.layout.plain))

    def _blank(self, line: _Line) -> None:
        self.columns = []
        if self.filled:
            if self.kind in ELSEWHERE:
                self._open("other", "", line.end, "")
            self.side = ""

    def _open(self, kind: str, title: str, start: int, side: str) -> None:
        self._close(start)
        self.kind, self.title, self.opened, self.side = kind, title, start, side
        self.heading = title.lower()
        self.filled = False

    def _close(self, end: int) -> None:
        if end > self.opened:
            self.layout.sections.append(Section(self.kind, self.title, self.opened, end))

    def _line(self, line: _Line) -> None:
        start = line.start + line.bullet
        text = self.layout.plain[start : line.end]
        label = _LABEL.match(text)
        if label is None or not self._label(label, start, line):
            dashed = _DASHED.match(text)
            known = dashed is not None and (self._known(dashed[1]) or _side_title(dashed[1]))
            if dashed is not None and known:
                self._label(dashed, start, line)
            elif self._alone(text, line):
                pass
            else:
                self._block(start, line.end)

    def _known(self, title: str) -> bool:
        return len(title) > 1 and _kind(title, self.lexicon) != ""

    def _alone(self, text: str, line: _Line) -> bool:
        """Open a section where a line is a heading without a colon."""
        bare = text.strip(" \t:-*#_=")
        side = _side_title(bare)
        if len(bare) > 1 and self._known(bare):
            self._open(_kind(bare, self.lexicon), bare, line.start, _side_in(bare))
            return True
        if side and not bare.endswith("."):
            self._sided(bare, side)
            return True
        return False

    def _sided(self, title: str, side: str) -> None:
        self.side = side
        self.heading = title.lower()
        if self.kind in ELSEWHERE:
            self.kind = "other"

    def _label(self, label: re.Match[str], start: int, line: _Line) -> bool:
        """Follow `Words: text`; False where the words are part of the text, not a heading."""
        title, begin = label[1], start + label.end()
        side = _side_title(title)
        kind = _kind(title, self.lexicon)
        rest = self.layout.plain[begin : line.end].strip()
        if kind:
            self._open(kind, title, line.start, _side_in(title))
        elif side:
            self._sided(title, side)
            if rest:  # said of this line alone; what follows may speak of anything
                self._block(begin, line.end)
                self.side = ""
                return True
        elif self._elsewhere(title) and not self._says_something(label, start):
            self._open("other", title, line.start, _side_in(title))
        elif not rest:
            self.side, self.heading = _side_in(title), title.lower()
        else:
            return False
        if rest:
            self._block(begin if kind else start, line.end)
        return True

    def _elsewhere(self, title: str) -> bool:
        """Say whether an unknown heading ends the section: a plan only if it looks like one."""
        if self.kind == "plan":
            return title.isupper() and " " in title
        return self.kind in ELSEWHERE

    def _says_something(self, label: re.Match[str], start: int) -> bool:
        begin, end = start + label.start(1), start + label.end(1)
        return any(hit.words for hit in self.lexicon.scan(self.layout.low, begin, end))

    def _block(self, start: int, end: int) -> None:
        self.filled = True
        self.layout.blocks.append(Block(start, end, self.kind, self.side, self.heading))

    def _table(self, line: _Line) -> bool:
        """Read a line as a table's head or row; False where it is neither."""
        cells = [(line.start + a, line.start + b) for a, b in _cells(line.text)]
        if len(cells) < 2:
            return False
        named = [_side_title(self.layout.plain[a:b].strip(" :*")) for a, b in cells]
        if {"left", "right"} <= set(named):
            self.columns = named
            return True
        if not self.columns:
            return False
        sided = [side for side in self.columns if side]
        if len(cells) != len(sided) + 1:
            return False
        self.filled = True
        block = Block(line.start, line.end, self.kind, "", self.heading)
        for side, (start, end) in zip(sided, cells[1:], strict=True):
            self.layout.cells.append(Cell(cells[0], start, end, side, block))
        return True
