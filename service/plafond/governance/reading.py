"""How well letters are read: what was found against what their authors labelled.

Takes letters with standoff labels and a reader of text; gives precision, recall and F1 by
attribute, the exact facts, and the unsafe errors apart: what was wrongly called absent, what was
put on the wrong side, a red flag that was missed. Reads nothing itself and knows no web.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Set
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from plafond.errors import DocumentError, Fault, QuantityError
from plafond.vocabulary import Value, Vocabulary

#: What a label or a mention answers when it is no fact of the patient, or no sure one.
NOT_SAID, UNSURE = "no", "uncertain"


@dataclass(frozen=True, slots=True)
class Label:
    """One thing a letter says, by its author: finding, side, answer, and the words (offsets)."""

    finding: str
    side: str
    answer: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Labelled:
    """A letter and its labels; `author` parts what was tuned on from what was kept aside."""

    id: str
    author: str
    style: str
    text: str
    labels: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact of a letter as rules compare it; `value` is None where it was not sure."""

    finding: str
    side: str
    value: Value | None


#: Reads the text of one letter: its facts, and the section kind of each finding and side.
Reader = Callable[[str], "Reading"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a reader found: facts, and the kind of section each stood in."""

    facts: frozenset[Fact]
    sections: dict[tuple[str, str], str] = field(default_factory=dict)


def read_labelled(file: Path) -> list[Labelled]:
    """Read letters with standoff labels, one JSON object a line; raises DocumentError."""
    letters = []
    for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        try:
            data = json.loads(line)
            labels = tuple(Label(**one) for one in data.pop("labels"))
            letter = Labelled(labels=labels, **data)
        except (ValueError, TypeError, KeyError, AttributeError) as error:
            fault = Fault(f"/{number}", "not a labelled letter", "id, author, style, text, labels")
            raise DocumentError([fault]) from error
        wrong = [one for one in labels if not 0 <= one.start < one.end <= len(letter.text)]
        if wrong:
            fault = Fault(f"/{number}", f"{wrong[0].finding} stands outside the text", "offsets")
            raise DocumentError([fault])
        letters.append(letter)
    return letters


def labelled_facts(letter: Labelled, vocabulary: Vocabulary) -> frozenset[Fact]:
    """Return the facts that a letter's labels state; raises DocumentError for a wrong label."""
    facts: set[Fact] = set()
    for label in letter.labels:
        if label.answer == NOT_SAID:
            continue
        definition = vocabulary[label.finding]
        try:
            value = (
                None if label.answer == UNSURE else definition.read(_raw(label.answer, definition))
            )
        except QuantityError as error:
            raise DocumentError([Fault(f"/{letter.id}", error.message, error.expected)]) from error
        sides = ("left", "right") if label.side == "both" else (label.side,)
        facts.update(Fact(label.finding, side, value) for side in sides)
    return frozenset(facts)


def _raw(answer: str, definition: object) -> object:
    kind = getattr(definition, "kind", "")
    return int(answer) if kind == "count" else answer


@dataclass
class Score:
    """Counts of right, wrongly found and missed."""

    right: int = 0
    wrong: int = 0
    missed: int = 0

    def add(self, found: Set[Any], wanted: Set[Any]) -> None:
        """Count one letter's found and wanted things."""
        self.right += len(found & wanted)
        self.wrong += len(found - wanted)
        self.missed += len(wanted - found)

    @property
    def precision(self) -> float:
        """Return the share of what was found that is right (1 where nothing was found)."""
        return self.right / (self.right + self.wrong) if self.right + self.wrong else 1.0

    @property
    def recall(self) -> float:
        """Return the share of what was to be found that was (1 where there was nothing)."""
        return self.right / (self.right + self.missed) if self.right + self.missed else 1.0

    @property
    def f1(self) -> float:
        """Return the harmonic mean of precision and recall."""
        both = self.precision + self.recall
        return 2 * self.precision * self.recall / both if both else 0.0


ATTRIBUTES = ("finding", "present", "absent", "choice", "number", "uncertain", "exact fact")


@dataclass
class Evaluation:
    """How a set of letters was read. Rates of unsafe errors are of the facts they could befall."""

    letters: int = 0
    scores: dict[str, Score] = field(default_factory=lambda: {one: Score() for one in ATTRIBUTES})
    sections: dict[str, Score] = field(default_factory=dict)
    affirmed: int = 0
    false_absents: list[str] = field(default_factory=list)
    sided: int = 0
    wrong_sides: list[str] = field(default_factory=list)
    flags: Score = field(default_factory=Score)
    missed_flags: list[str] = field(default_factory=list)
    missed: Counter[str] = field(default_factory=Counter)
    invented: Counter[str] = field(default_factory=Counter)

    def rate(self, errors: list[str], of: int) -> float:
        """Return the share of unsafe errors."""
        return len(errors) / of if of else 0.0


def evaluate(
    letters: Iterable[Labelled],
    vocabulary: Vocabulary,
    reader: Reader,
    flags_of: Callable[[Iterable[Fact]], set[tuple[str, str]]],
) -> Evaluation:
    """Read every letter and hold it against its labels.

    `flags_of` gives the (red flag, side) that facts raise; a flag that the labels raise and the
    reading does not is a missed one.
    """
    told = Evaluation()
    for letter in letters:
        wanted = labelled_facts(letter, vocabulary)
        reading = reader(letter.text)
        told.letters += 1
        _count(told, vocabulary, wanted, reading)
        _count_unsafe(told, letter.id, wanted, reading.facts)
        raised, seen = flags_of(wanted), flags_of(reading.facts)
        told.flags.add(seen, raised)
        told.missed_flags += [f"{letter.id}: {rule} ({side})" for rule, side in raised - seen]
    return told


def _count(
    told: Evaluation, vocabulary: Vocabulary, wanted: frozenset[Fact], reading: Reading
) -> None:
    found = reading.facts
    told.scores["finding"].add({one.finding for one in found}, {one.finding for one in wanted})
    told.scores["exact fact"].add(set(found), set(wanted))
    for attribute in ATTRIBUTES[1:-1]:
        told.scores[attribute].add(
            {one for one in found if _attribute(one, vocabulary) == attribute},
            {one for one in wanted if _attribute(one, vocabulary) == attribute},
        )
    for fact in found:
        kind = reading.sections.get((fact.finding, fact.side), "other")
        score = told.sections.setdefault(kind, Score())
        score.add({fact}, {fact} & set(wanted))
    told.missed.update(one.finding for one in wanted - found)
    told.invented.update(one.finding for one in found - wanted)


def _attribute(fact: Fact, vocabulary: Vocabulary) -> str:
    if fact.value is None:
        return "uncertain"
    definition = vocabulary[fact.finding]
    if definition.numeric:
        return "number"
    return str(fact.value) if definition.kind == "presence" else "choice"


NEGATIVE = ("absent", "negative", "none", "normal")


def _denied(fact: Fact, denied: set[tuple[str, str]]) -> bool:
    """Say whether a letter denies a finding on that side, or on any where the side was not read."""
    if fact.side == "unspecified":
        return any(finding == fact.finding for finding, _ in denied)
    return (fact.finding, fact.side) in denied


def _count_unsafe(
    told: Evaluation, letter: str, wanted: frozenset[Fact], found: frozenset[Fact]
) -> None:
    denied = {(one.finding, one.side) for one in wanted if one.value in NEGATIVE}
    told.affirmed += sum(one.value not in NEGATIVE for one in wanted)
    told.false_absents += [
        f"{letter}: {one.finding} ({one.side})"
        for one in sorted(found, key=str)
        if one.value in NEGATIVE and not _denied(one, denied)
    ]
    sides: dict[tuple[str, Value | None], set[str]] = {}
    for one in wanted:
        sides.setdefault((one.finding, one.value), set()).add(one.side)
    for one in sorted(found, key=str):
        right = sides.get((one.finding, one.value))
        if right is not None and "person" not in right:
            told.sided += 1
            if one.side not in right and one.side != "unspecified":
                told.wrong_sides.append(f"{letter}: {one.finding} ({one.side})")


def lines_of(told: Evaluation) -> Iterator[str]:
    """Give an evaluation as lines of text, the unsafe errors last."""
    yield f"{told.letters} letters"
    yield f"{'':<16}{'precision':>10}{'recall':>8}{'F1':>7}{'right':>7}{'wrong':>7}{'missed':>8}"
    for name, score in (*told.scores.items(), ("red flags", told.flags)):
        yield _line(name, score)
    for name, score in sorted(told.sections.items()):
        yield f"in {name:<13}{score.precision:>10.3f}{'':>15}{score.right:>7}{score.wrong:>7}"
    yield _unsafe("called absent", told.false_absents, told.affirmed)
    yield _unsafe("on the wrong side", told.wrong_sides, told.sided)
    yield _unsafe("red flags missed", told.missed_flags, told.flags.right + told.flags.missed)


def _line(name: str, score: Score) -> str:
    rates = f"{score.precision:>10.3f}{score.recall:>8.3f}{score.f1:>7.3f}"
    return f"{name:<16}{rates}{score.right:>7}{score.wrong:>7}{score.missed:>8}"


def _unsafe(name: str, errors: list[str], of: int) -> str:
    share = len(errors) / of if of else 0.0
    return f"{name}: {len(errors)} of {of} ({share:.2%})"
