"""Which number belongs to which finding.

Takes a sentence's numbers and the words that label them; gives each number to the nearest label
whose unit and way of saying a time fit. What does not fit is said to be unread, never forced.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from plafond.errors import QuantityError
from plafond.intake.letter.lexicon import Hit, Lexicon
from plafond.intake.letter.measures import Number
from plafond.quantities import UNITS, plain
from plafond.vocabulary import Definition

#: How far, in words, a number may stand from its label; a number without a unit stands closer.
FAR, NEAR = 12, 5
#: What a time may be the time of, instead of what stands before it.
_ELSE = re.compile(
    r"\b(?:relief|benefit|improvement|better|helped|effect|apart|weight bearing|until)\b"
)
_RELATIVE = re.compile(
    r"\s*(?:[\w-]+\s+)?(?:son|daughter|brother|sister|mother|father|child|wife|husband|baby|boy|girl|twins?)\b"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """A number given to a finding, or (with `why`) one that could not be."""

    finding: Definition
    number: Number
    target: Hit | None
    value: str = ""
    phrase: str = ""
    rule: str = "measure"
    unsure: bool = False
    side: str = ""
    why: str = ""

    @property
    def span(self) -> tuple[int, int]:
        """Return the stretch from label to number, whichever comes first."""
        label = self.target or self.number
        return min(label.start, self.number.start), max(label.end, self.number.end)


def measured(
    low: str,
    targets: Sequence[Hit],
    found: Sequence[Number],
    lexicon: Lexicon,
    *,
    sides: Sequence[tuple[int, int, str]],
    two_sided: bool,
) -> Iterator[Measured]:
    """Yield what each number of a sentence measures.

    One label may have two numbers only where the sentence names two sides.
    """
    taken: set[int] = set()
    for index, number in enumerate(found):
        if "dimensions" in number.frames or number.unit in ("mm", "cm"):
            sized = list(_sized(low, targets, number, lexicon))
            if sized:
                taken.add(index)
                yield from sized
        elif "age" in number.frames:
            taken.add(index)
            yield from _aged(low, number, lexicon)
    pairs = sorted(
        _pairs(low, targets, found, taken, FAR if two_sided else NEAR), key=lambda pair: pair[0]
    )
    labels: set[tuple[int, str]] = set()
    for _, index, target, definition, phrase in pairs:
        key = (target.start, definition.id)
        if index in taken or (key in labels and not two_sided):
            continue
        labels.add(key)
        taken.add(index)
        one = _read(definition, found[index], target, phrase)
        yield replace(one, side=_alternating(found, index, target, sides)) if two_sided else one


def _alternating(
    found: Sequence[Number], index: int, target: Hit, sides: Sequence[tuple[int, int, str]]
) -> str:
    """Return the side of a number where sides and numbers take turns: "R 0.7, L 0.9"."""
    after = [one for one in found if one.start >= target.end and one.unit == found[index].unit]
    named = [says for start, _, says in sides if start >= target.end]
    own = found[index]
    if own in after and len(after) == len(named) and len(named) > 1:
        return named[after.index(own)]
    return ""


def _pairs(
    low: str, targets: Sequence[Hit], found: Sequence[Number], taken: set[int], near: int
) -> Iterator[tuple[int, int, Hit, Definition, str]]:
    """Yield every label and number that fit, with how far apart they stand."""
    for target in targets:
        for word in target.words:
            if not word.finding.numeric or word.blocked:
                continue
            for index, number in enumerate(found):
                if index in taken or not _fits(word.finding, number):
                    continue
                cost = _distance(low, target, number, near)
                if cost >= 0:
                    yield cost, index, target, word.finding, word.phrase


def _distance(low: str, target: Hit, number: Number, near: int = NEAR) -> int:
    """Return how far a number stands from a label, or -1 where it is out of reach."""
    after = number.start >= target.end
    if number.start < target.end and number.end > target.start:
        return 0
    between = low[target.end : number.start] if after else low[number.end : target.start]
    limit = FAR if number.unit else near
    if number.frames and _ELSE.search(between):
        return -1
    if ";" in between or between.count(" ") > limit or (not number.unit and not after):
        return -1
    return len(between) + 25 * between.count(",") + (0 if after else 4)


def _fits(definition: Definition, number: Number) -> bool:
    measure = definition.letter.measure
    if definition.kind == "count":
        return not number.unit and not number.frames
    if number.frames:
        if UNITS[definition.unit][0] != "time" or "dimensions" in number.frames:
            return False
        wanted = set(measure.times or ("of", "for"))
        frames = set(number.frames)
        # "6 weeks ago" is no length of anything, whatever stands beside it
        other = set() if "for" in frames else frames & {"ago", "after", "history"} - wanted
        return bool(wanted & frames) and not other
    if not number.unit:
        # a bare number is taken up also where it must be refused, to be listed as unread
        return definition.unit == "1" or measure.bare or UNITS[definition.unit][0] != "time"
    return number.unit in definition.units


def _read(definition: Definition, number: Number, target: Hit | None, phrase: str) -> Measured:
    """Read a number against its finding; what does not fit says why."""

    def refuse(why: str) -> Measured:
        return Measured(definition, number, target, phrase=phrase, why=why)

    if number.range or not number.values:
        return refuse("a range or a vague time, no single value")
    if definition.kind == "count":
        if number.out_of and Decimal(number.out_of) != definition.high:
            return refuse("a score out of another number")
        raw: object = number.values[0]
        shown = plain(number.values[0])
    else:
        if number.out_of:
            return refuse("a fraction, no measure")
        bare = not number.unit
        if bare and definition.unit != "1" and not definition.letter.measure.bare:
            return refuse("a number without its unit")
        unit = number.unit or definition.unit
        raw = shown = plain(number.values[0]) + (f" {unit}" if unit != "1" else "")
    try:
        definition.read(raw)
    except QuantityError:
        return refuse("outside what is plausible")
    return Measured(definition, number, target, shown, phrase, "measure", number.bound)


def _aged(low: str, number: Number, lexicon: Lexicon) -> Iterator[Measured]:
    """Yield the patient's age; a relative's is nobody's business here."""
    if _RELATIVE.match(low, number.end):
        return
    for definition in lexicon.ages:
        yield _read(definition, number, None, "age")


def _sized(
    low: str, targets: Sequence[Hit], number: Number, lexicon: Lexicon
) -> Iterator[Measured]:
    """Yield the lengths that "11 x 8 x 4 mm" gives, in the order its lesion says."""
    best: tuple[int, Hit, Definition] | None = None
    for target in targets:
        for word in target.words:
            letter = word.finding.letter
            if (letter.dimensions and "dimensions" in number.frames) or letter.largest:
                cost = _distance(low, target, number)
                if cost >= 0 and (best is None or cost < best[0]):
                    best = cost, target, word.finding
    if best is None:
        return
    _, target, owner = best
    if not owner.letter.dimensions and any(
        word.finding.numeric and number.unit in word.finding.units and not word.label
        for other in targets
        for word in other.words
    ):
        return  # a length that is named ("gap of 4 mm") is not the size of the lump beside it
    named = list(zip(owner.letter.dimensions, number.values, strict=False))
    if owner.letter.largest:
        named.append((owner.letter.largest, max(number.values)))
    for name, value in named:
        one = Number(number.start, number.end, (value,), number.unit)
        found = _read(lexicon.vocabulary[name], one, target, owner.id)
        yield replace(found, rule=f"dimensions:{owner.id}")
