"""Numbers: does each have its source, and do the sentence and the condition of a rule agree?

Reads numbers out of a statement, in digits or in words up to twenty, with their units, and looks
for each in the condition (its limits, counts and parameters, and those of what it rests on), and
the other way round. A month is taken as four weeks and a bit, as authors do.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from plafond.errors import Issue
from plafond.governance.limits import Limit, as_written, beside, limits_of
from plafond.governance.places import Places
from plafond.governance.trees import clause_places, nodes
from plafond.quantities import SPELLINGS, UNITS, Quantity
from plafond.rulebook import AtLeast, Between, Clause, Compare, Is, OneOf, Rule, Rulebook
from plafond.rulebook.rules import CONFIDENCES
from plafond.vocabulary import Definition

WORDS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen", "twenty",
)  # fmt: skip

#: Units as a sentence writes them. Single letters are left out: "4 a day" is no age.
_SPELT = {
    "square millimetre": "mm2", "square millimetres": "mm2", "square centimetre": "cm2",
    "square centimetres": "cm2", "degree Celsius": "Cel", "degrees Celsius": "Cel",
    "white cells per cubic millimetre": "/mm3", "cells per cubic millimetre": "/mm3",
    **{word: code for word, code in SPELLINGS.items() if len(word) > 1 or not word.isalpha()},
    **{code: code for code in UNITS if len(code) > 1 or not code.isalnum()},
}  # fmt: skip
_UNIT = "|".join(re.escape(word) for word in sorted(_SPELT, key=len, reverse=True))
_NUMBER = re.compile(
    r"(?<![\w.,/-])(?P<number>\d{1,3}(?:[ ,]\d{3})+|\d+(?:\.\d+)?|" + "|".join(WORDS) + r")"
    rf"(?:[ -]?(?P<unit>{_UNIT}))?(?![\w/%])",
    re.IGNORECASE,
)
#: What makes a bare number a limit; "more than four in five" is a rate and none.
_BEFORE = re.compile(
    r"\b(at least|at most|more than|less than|fewer than|under|over|above|below|from|up to|between)"
    r" $",
    re.IGNORECASE,
)
_AFTER = re.compile(r"( \w+)? or (more|less|fewer|above|below|over|under)\b", re.IGNORECASE)
_RATE = re.compile(r" (in|of|out of) (\d+|" + "|".join(WORDS) + r")\b", re.IGNORECASE)

#: Shares a sentence writes as a word, in per cent. They may stand for a limit; they ask for none.
_SHARES = {"half": 50, "a quarter": 25, "three quarters": 75}

#: How far apart two times may lie where one is in months or years: 3 mo and 12 wk.
LOOSE = Decimal("0.085")


@dataclass(frozen=True, slots=True)
class Said:
    """A number of a sentence: its unit where it has one, and whether it stands as a limit."""

    number: Decimal
    unit: str
    as_limit: bool
    text: str


@dataclass(frozen=True, slots=True)
class Tested:
    """A number of a condition with the clause it stands in."""

    clause: Clause
    limit: Limit
    definition: Definition

    def agrees(self, said: Said) -> bool:
        """Say whether a number of the sentence means this one, in whichever unit."""
        return any(_same(said, limit, self.definition) for limit in self._readings())

    def _readings(self) -> Iterator[Limit]:
        """Yield the limit; of one that does not itself count, also the last that does."""
        yield self.limit
        if isinstance(self.clause, Compare) and self.clause.word in ("above", "below"):
            steps = 1 if self.clause.word == "above" else -1
            yield beside(self.limit, self.definition, steps)


def said_in(text: str) -> list[Said]:
    """Return the numbers of a sentence. Years and ordinals are none."""
    found = []
    for match in _NUMBER.finditer(text):
        word = match["number"].lower()
        number = Decimal(WORDS.index(word) if word in WORDS else re.sub("[ ,]", "", word))
        unit = _code(match["unit"]) if match["unit"] else ""
        if not unit and number == int(number) and 1900 <= number <= 2100:
            continue
        before, after = text[: match.start()], text[match.end() :]
        rate = _RATE.match(after) is not None
        as_limit = bool(_BEFORE.search(before) or _AFTER.match(after)) and not rate
        found.append(Said(number, unit, as_limit, " ".join(match[0].split())))
    return found


def _shares_in(text: str) -> list[Said]:
    return [
        Said(Decimal(share), "%", False, word)
        for word, share in _SHARES.items()
        if re.search(rf"\b{word}\b", text, re.IGNORECASE)
    ]


def _code(unit: str) -> str:
    return _SPELT.get(unit) or next(
        code for word, code in _SPELT.items() if word.lower() == unit.lower()
    )


def _same(said: Said, limit: Limit, definition: Definition) -> bool:
    written = as_written(limit, definition)
    if not said.unit:
        return said.number in (written.value, definition.from_base(limit.value))
    if not _fits(said.unit, definition):
        return False
    value = definition.base_of(Quantity(said.number, said.unit))
    if value == limit.value:
        return True
    loose = said.unit != written.unit and not {"mo", "a"}.isdisjoint((said.unit, written.unit))
    return loose and abs(value - limit.value) <= LOOSE * max(value, limit.value)


def _fits(unit: str, definition: Definition) -> bool:
    return unit in definition.units


# -- the sentence and the condition -------------------------------------------------------


def disagreeing(rulebook: Rulebook, rule: Rule, places: Places) -> Iterator[Issue]:
    """Yield the numbers a statement gives that its condition lacks, and the other way round.

    A number with a unit must match only where the condition tests something in that unit's
    dimension; one without only where it stands as a limit ("at least four"). What is said in the
    effect (an urgency, an advice) or asked by a finding's own question counts as known.
    """
    said = said_in(rule.statement)
    tested = [one for part in _resting_on(rulebook, rule) for one in _tested(rulebook, part)]
    counts = {count for part in _resting_on(rulebook, rule) for count in _counts(part)}
    beside_it = said_in(_beside(rulebook, rule))
    for one in said:
        if any(other.agrees(one) for other in tested) or _repeated(one, beside_it):
            continue
        if one.unit:
            wrong = any(_fits(one.unit, other.definition) for other in tested)
        else:
            wrong = one.as_limit and one.number not in counts
        if wrong:
            message = f"the statement says {one.text}, the condition does not"
            mend = "make them agree"
            yield places.rule(rule.id, "/statement", message, "warning", mend)
    said += _shares_in(rule.statement)
    unsaid = [
        one.limit.shown
        for one in _tested(rulebook, rule)
        if one.limit.value and not any(one.agrees(other) for other in said)
    ]
    if unsaid:
        text = ", ".join(dict.fromkeys(unsaid))
        yield places.rule(rule.id, "/statement", f"the statement does not say {text}", "note")


def _tested(rulebook: Rulebook, rule: Rule) -> list[Tested]:
    found = []
    for _, clause in clause_places(rule.condition):
        definition = rulebook.vocabulary[clause.finding]
        found += [Tested(clause, limit, definition) for limit in limits_of(clause, definition)]
    return found


def _counts(rule: Rule) -> set[Decimal]:
    """Return the counts of a condition: how many, of how many; and the numbers in its values."""
    found: set[Decimal] = set()
    for _, node in nodes(rule.condition):
        match node:
            case AtLeast(count, parts):
                found |= {Decimal(count), Decimal(len(parts))}
            case Is(_, value):
                found |= _digits((value,))
            case OneOf(_, values):
                found |= _digits(values)
            case _:
                pass
    return found


def _digits(values: Iterable[str]) -> set[Decimal]:
    return {Decimal(digits) for value in values for digits in re.findall(r"\d+", value)}


def _resting_on(rulebook: Rulebook, rule: Rule) -> list[Rule]:
    """Return a rule and those that derive what it tests."""
    deriving = [rulebook.derived_by[one] for one in rule.findings if one in rulebook.derived_by]
    return [rule, *(one for found in deriving for one in _resting_on(rulebook, found))]


def _beside(rulebook: Rulebook, rule: Rule) -> str:
    """Return what else gives a statement its numbers: effect, urgency, titles and questions."""
    effect = rule.effect
    urgency = effect.urgency.replace("two-weeks", "2 weeks")
    definitions = [rulebook.vocabulary[name] for name in rule.findings]
    asked = [text for one in definitions for text in (one.title, one.question)]
    return "; ".join((effect.advice, effect.action, urgency, *asked))


def _repeated(one: Said, others: list[Said]) -> bool:
    return any((one.number, one.unit) == (other.number, other.unit) for other in others)


# -- sources of numbers -------------------------------------------------------------------


def unsourced(rulebook: Rulebook, rule: Rule, places: Places) -> Iterator[Issue]:
    """Yield every limit without a source in a rule that calls its numbers seen in print.

    Also a parameter on weaker ground than its rule, which speaks of the weakest number it needs.
    """
    if rule.confidence in ("verified", "secondary"):
        for way, clause in clause_places(rule.condition):
            if isinstance(clause, Compare | Between) and not clause.cites:
                definition = rulebook.vocabulary[clause.finding]
                shown = " to ".join(limit.shown for limit in limits_of(clause, definition))
                message = f"{clause.finding} {shown} has no source, its rule is {rule.confidence}"
                mend = "cite one, or lower the rule's confidence"
                yield places.condition(rule, way, message, "error", mend)
    rank = CONFIDENCES.index
    for name, parameter in rule.parameters.items():
        if rank(parameter.confidence) > rank(rule.confidence):
            message = f"{name} is called {parameter.confidence}, its rule {rule.confidence}"
            mend = f"a rule is as sure as its weakest number: {parameter.confidence}"
            yield places.rule(rule.id, f"/parameters/{name}", message, "warning", mend)
