"""Which answer stands beside a test or a stage: positive, 2+, stable, grade III, mild.

Takes a finding's place in its sentence; gives the value the words beside it state, and where they
stand. A test without an answer is not known. Refuses to know sides and scopes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from plafond.intake.letter.lexicon import Hit, Word
from plafond.intake.letter.text import fold
from plafond.vocabulary import Definition

POLAR = ("negative", "positive")
_ROMAN = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6"}
_GRADE = (
    r"(?P<tail>\d{1,2}[a-e]?|i{1,3}[ab]?|iv[ab]?|vi?|[a-e])(?![\w.]*\d)(?!\w)"
    r"(?!\s*(?:-|/|to|or)\s*[\divab])"
)
_WORDS = r"(?:grade|graded|stage|staged|type|zone|class|score|no\.?|number)"
_AFTER = re.compile(
    r"(?:\s*(?:fracture|injury|arthritis|osteoarthritis|changes?|classification|scale|criteria"
    r"|system|oa|lesion|tear|score))?[\s:=(,-]*"
    r"(?:(?:of|is|was|a|an|as|at|shows?|in keeping with)\s+)*"
    rf"(?:{_WORDS}[\s:-]*)?{_GRADE}"
)
_BEFORE = re.compile(rf"\b{_WORDS}[\s:-]*{_GRADE}\)?,?\s*(?:\w+\s+){{0,3}}(?:\()?$")
_BARE_BEFORE = re.compile(rf"\b{_GRADE}\s*$")
_OF = r"(?:\s+(?:of|in|at|over|on)\s+(?:the\s+)?[a-z ]{1,30}?)?"
_TESTS = r"\s*(?:test|signs?|score)?\s*"
_YES = re.compile(
    _OF + _TESTS + r"[:=]\s*(?:yes|y|present|positive|\+ve|\+{1,3}|pos)(?![\w+/])"
    r"|\s*\((?:yes|y|present|positive|\+ve)\)"
    r"|\s*[:=]?\s*\(?\+{1,3}\)?(?![\w+])"
)
_NO = re.compile(
    _OF + _TESTS + r"(?:[:=]|-(?=\s))\s*"
    r"(?:no|n|nil|none|absent|negative|-ve|neg|nad|0|never|normal)(?![\w+/])"
    r"|\s*\((?:no|n|nil|none|absent|negative|-ve)\)"
)
_NOT_KNOWN = re.compile(
    _TESTS + r"[:=]\s*(?:n/k|nk|n/a|not (?:known|recorded|assessed|tested|asked)|unknown|tbc)\b"
)
_NO_VE = re.compile(r"\s*(?:-ve|neg(?:ative)?)\b")
_AND = re.compile(
    r"[\s/&(),-]*(?:\b(?:and|or|the|of|both|test|tests|sign|signs|stress|a|were|was)\b[\s/&,-]*)*"
)
_NOT = re.compile(r"\b(?:not|never|isnt|no longer|neither)\s+(?:\w+\s+)?$|\bno\s+$|n't\s+$")
_TEST = re.compile(r"\s*(?:tests?|signs?|manoeuvre|maneuver|testing|stress)\b")


@dataclass(frozen=True, slots=True)
class Answer:
    """A value and where the words stand that state it; `rule` names them."""

    value: str
    start: int
    end: int
    rule: str


class Results:
    """Pairs the tests of one sentence with their answers."""

    def __init__(
        self, low: str, start: int, end: int, targets: Sequence[Hit], hits: Sequence[Hit]
    ) -> None:
        self.low, self.start, self.end = low, start, end
        self.targets = targets
        self.common = [
            (hit.start, hit.end, one.says, one.id)
            for hit in hits
            for one in hit.modifiers
            if one.does == "result"
        ]

    def of(self, target: Hit, word: Word) -> Answer | None:
        """Return the answer a finding of kind presence or choice is given in words, or nothing."""
        definition = word.finding
        if definition.kind == "presence":
            return self._yes_or_no(target, definition)
        if graded(definition):
            return self._grade(target, definition)
        found = self._beside(target, definition)
        if found is None:
            found = self._shared(target, definition)
        return None if found is None or found.value == "unclear" else found

    def turns(
        self, target: Hit, definition: Definition, sides: Sequence[tuple[int, int, str]]
    ) -> list[tuple[str, Answer]]:
        """Return one answer a side where answers and sides take turns, or nothing.

        "Positive on the right and negative on the left" has two answers to one test.
        """
        first, last = self._joined(target)
        begin = max((one.end for one in self.targets if one.end <= first.start), default=self.start)
        stop = min((one.start for one in self.targets if one.start >= last.end), default=self.end)
        named = [says for start, _, says in sides if begin <= start < stop]
        if len(set(named)) != len(named) or len(named) != 2 or definition.kind == "presence":
            return []
        found: list[tuple[int, int, str, str]] = []
        for one in sorted(self._candidates(definition), key=lambda at: (at[0], -at[1])):
            beside = one[1] <= first.start and self._adjacent(one[1], first.start)
            if not (last.end <= one[0] < stop or beside):
                continue
            if not found or one[0] >= found[-1][1]:
                found.append(one)
        if len(found) != len(named):
            return []
        answers = [self._answer(one, definition) for one in found]
        return [
            (side, answer)
            for side, answer in zip(named, answers, strict=True)
            if answer.value != "unclear"
        ]

    def _joined(self, target: Hit) -> tuple[Hit, Hit]:
        """Return the first and the last of the findings that this one is joined to by "and"."""
        first = last = target
        for other in self.targets:
            if other.start < last.end:
                continue
            between = _TEST.sub(" ", self.low[last.end : other.start])
            if not _AND.fullmatch(between) or not re.search(r"\band\b|/|&", between):
                break
            last = other
        return first, last

    # -- positive, negative, mild ------------------------------------------------------

    def _candidates(self, definition: Definition) -> Iterator[tuple[int, int, str, str]]:
        """Yield every word of the sentence that answers this finding."""
        own = own_results(definition)
        for word, value in own:
            at = self.low.find(word, self.start, self.end)
            while at >= 0:
                if self._whole(at, at + len(word)) and not self._inside(at, at + len(word)):
                    yield at, at + len(word), value, f"{definition.id}={value}"
                at = self.low.find(word, at + 1, self.end)
        for start, end, says, rule in self.common:
            if says == "unclear" or says in definition.values:
                yield start, end, says, rule

    def _whole(self, start: int, end: int) -> bool:
        low = self.low
        left = start == 0 or not (low[start].isalnum() and low[start - 1].isalnum())
        right = end >= len(low) or not (low[end - 1].isalnum() and low[end].isalnum())
        return left and right

    def _inside(self, start: int, end: int) -> bool:
        return any(one.start < end and start < one.end for one in self.targets)

    def _beside(self, target: Hit, definition: Definition) -> Answer | None:
        stop = self._window(target)
        after: tuple[int, int, str, str] | None = None
        before: tuple[int, int, str, str] | None = None
        for found in self._candidates(definition):
            start, end = found[:2]
            if target.end <= start < stop:
                nearer = after is None or (start, -end) < (after[0], -after[1])
                after = found if nearer else after
            elif end <= target.start and self._adjacent(end, target.start):
                before = found if before is None or end > before[1] else before
        chosen = self._choose(before, after)
        return None if chosen is None else self._answer(chosen, definition)

    def _choose(
        self,
        before: tuple[int, int, str, str] | None,
        after: tuple[int, int, str, str] | None,
    ) -> tuple[int, int, str, str] | None:
        """An answer right before the finding is its own, unless it belongs to what precedes."""
        if before is None or after is None:
            return before if after is None else after
        preceding = [one for one in self.targets if one.end <= before[0]]
        taken = bool(preceding) and not re.search(
            r"[,;.]|\band\b", self.low[preceding[-1].end : before[0]]
        )
        return after if taken else before

    def _answer(self, found: tuple[int, int, str, str], definition: Definition) -> Answer:
        start, end, value, rule = found
        if value in POLAR and _NOT.search(self.low, max(self.start, start - 24), start):
            flipped = POLAR[1 - POLAR.index(value)]
            if flipped in definition.values:
                return Answer(flipped, start, end, f"{rule}:not")
        return Answer(value, start, end, rule)

    def _window(self, target: Hit) -> int:
        """Return where a finding's own words end: at the next finding, at a comma."""
        stop = self.end
        for other in self.targets:
            if other.start >= target.end:
                stop = min(stop, other.start)
        for mark in (",", ";", " but ", " and "):
            at = self.low.find(mark, target.end, stop)
            if at >= 0:
                stop = at
        return stop

    def _adjacent(self, end: int, start: int) -> bool:
        """Say whether nothing but other findings and small words stand between two places."""
        between = self.low[end:start]
        if between.count(" ") > 10 or ";" in between:
            return False
        for other in reversed(self.targets):
            if end <= other.start and other.end <= start:
                between = between[: other.start - end] + " " + between[other.end - end :]
        words = re.findall(r"[\w']+", between)
        if "," in between and "and" not in words:
            return False
        return all(word in _SMALL for word in words)

    def _shared(self, target: Hit, definition: Definition) -> Answer | None:
        """Return the answer that a finding shares with the next one it is joined to."""
        joined = False
        last = target
        for other in self.targets:
            if other.start < target.end:
                continue
            between = _TEST.sub(" ", self.low[last.end : other.start])
            if not _AND.fullmatch(between) or ";" in between:
                break
            joined = joined or re.search(r"\band\b|/|&|\bor\b", between) is not None
            last = other
            found = self._beside(other, definition)
            if found is not None and found.start >= other.end:
                return found if joined else None
        return None

    def _yes_or_no(self, target: Hit, definition: Definition) -> Answer | None:
        no = _NO.match(self.low, target.end, self.end) or _NO_VE.match(
            self.low, target.end, self.end
        )
        if no:
            return Answer("absent", no.start(), no.end(), "result:no")
        if _NOT_KNOWN.match(self.low, target.end, self.end):
            return Answer("unclear", target.start, target.end, "result:not-known")
        yes = _YES.match(self.low, target.end, self.end)
        if yes:
            return Answer("present", yes.start(), yes.end(), "result:yes")
        if definition.letter.results:
            return self._beside(target, definition)
        return None

    # -- grades ------------------------------------------------------------------------

    def _grade(self, target: Hit, definition: Definition) -> Answer | None:
        tails = _tails(definition)
        match = _AFTER.match(self.low, target.end, self.end)
        if match is None:
            match = _BEFORE.search(self.low, max(self.start, target.start - 40), target.start)
        if match is None:
            return None
        tail = match["tail"]
        value = tails.get(tail) or tails.get(_arabic(tail))
        return (
            Answer(value, match.start("tail"), match.end("tail"), "result:grade") if value else None
        )


_SMALL = frozenset(
    [
        "a",
        "an",
        "the",
        "of",
        "for",
        "on",
        "in",
        "and",
        "or",
        "both",
        "test",
        "tests",
        "sign",
        "signs",
        "was",
        "were",
        "is",
        "are",
        "his",
        "her",
        "left",
        "right",
        "to",
        "at",
        "l",
        "r",
        "lt",
        "rt",
        "with",
        "ankle",
        "bilateral",
        "bilaterally",
    ]
)


def _arabic(tail: str) -> str:
    letter = tail[-1] if tail[-1] in "ab" and len(tail) > 1 else ""
    return _ROMAN.get(tail.removesuffix(letter) if letter else tail, tail) + letter


@cache
def _tails_of(values: tuple[str, ...]) -> dict[str, str]:
    return {value.rpartition("-")[2]: value for value in values}


def _tails(definition: Definition) -> dict[str, str]:
    return _tails_of(definition.values)


def graded(definition: Definition) -> bool:
    """Say whether the values are degrees of one thing: grade-1, grade-2."""
    heads = {value.partition("-")[0] for value in definition.values}
    return (
        definition.kind == "choice" and len(heads) == 1 and all("-" in v for v in definition.values)
    )


@cache
def _own_results(
    values: tuple[str, ...], results: tuple[tuple[str, tuple[str, ...]], ...]
) -> tuple[tuple[str, str], ...]:
    own = {fold(phrase): value for value, phrases in results for phrase in phrases}
    for value in values:
        if value not in (*POLAR, "present", "absent"):
            own.setdefault(fold(value.replace("-", " ")), value)
    return tuple(sorted(own.items(), key=lambda pair: -len(pair[0])))


def own_results(definition: Definition) -> tuple[tuple[str, str], ...]:
    """Return the words that state a value of this finding, the longest first."""
    return _own_results(definition.values, tuple(sorted(definition.letter.results.items())))
