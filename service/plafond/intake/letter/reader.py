"""Reads a letter: the spine. Text in, what it says of each finding out, each with its evidence.

normalise -> lay out -> sentences -> words -> for each sentence: what counts, its scope, its
answer or number, its side -> mentions -> facts. Takes text and a lexicon; knows no rule.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date

from plafond.errors import DocumentSyntaxError, DocumentTooLargeError, Fault
from plafond.intake.letter.context import Context, counts, dated, year_of
from plafond.intake.letter.facts import Letter, Mention, Section, Unread, facts_of, resided
from plafond.intake.letter.fuzzy import misspelled
from plafond.intake.letter.layout import Cell, Layout, lay_out
from plafond.intake.letter.lexicon import Hit, Lexicon, Word, longest, strongest
from plafond.intake.letter.measures import first_date, numbers, worth_reading
from plafond.intake.letter.pairing import Measured, measured
from plafond.intake.letter.results import Answer, Results, graded
from plafond.intake.letter.scopes import SCOPED, Scope, Scopes, plainly_denied
from plafond.intake.letter.sentences import Sentence, sentences
from plafond.intake.letter.sides import Sides, dismissed, opposite, side_hits
from plafond.intake.letter.text import Text, normalise
from plafond.vocabulary import Definition

MOST_BYTES = 262_144
_SCOPES = frozenset((*SCOPED, "terminator", "pseudo"))
_SECTION_STATUS = {
    "family": "other-person",
    "plan": "hypothetical",
    "goal": "hypothetical",
    "allergies": "hypothetical",
    "past": "historical",
}


def read_letter(text: str, lexicon: Lexicon, *, written: date | None = None) -> Letter:
    """Read one letter.

    `written` is the date it bears, where the caller knows it; else a date at its head is taken.
    Raises DocumentTooLargeError over 262,144 bytes of UTF-8, DocumentSyntaxError where the text
    holds no letter and no digit.
    """
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > MOST_BYTES:
        raise DocumentTooLargeError(
            [Fault("", f"{size} bytes is too large", f"at most {MOST_BYTES} bytes")]
        )
    if not any(char.isalnum() for char in text):
        raise DocumentSyntaxError([Fault("", "no text in it", "a letter in words")])
    return _Reading(normalise(text), lexicon, written).letter()


def scope_of(text: str, start: int, end: int, lexicon: Lexicon) -> Scope:
    """Return what the words around one stretch of a text make of whatever it names.

    For checks against texts whose findings somebody else has marked; offsets in the raw text.
    """
    whole = normalise(text)
    layout = lay_out(whole, lexicon)
    places = [whole.raw(index, index + 1) for index in range(len(whole.plain))]
    inside = [index for index, (a, b) in enumerate(places) if start <= a and b <= end]
    target = Hit(inside[0], inside[-1] + 1)
    for sentence in sentences(layout, lexicon):
        if sentence.start <= target.start < sentence.end:
            hits = [
                hit
                for hit in lexicon.scan(layout.low, sentence.start, sentence.end)
                if hit.does & _SCOPES and not _overlaps(hit, [(target.start, target.end)])
            ]
            found = Scopes(layout.low, sentence.start, sentence.end, [target], strongest(hits))
            return found.read()[0]
    return Scope()


@dataclass(slots=True)
class Words:
    """What stands in one sentence: findings, modifiers, sides, answers, parts of the body."""

    sentence: Sentence
    targets: list[Hit] = field(default_factory=list)
    labels: list[Hit] = field(default_factory=list)
    scopes: list[Hit] = field(default_factory=list)
    results: list[Hit] = field(default_factory=list)
    sides: list[tuple[int, int, str]] = field(default_factory=list)
    parts: list[Hit] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Said:
    """What a sentence says of one finding, before its side is known."""

    finding: Definition
    value: str
    status: str
    span: tuple[int, int]
    rules: tuple[str, ...]
    match: str


#: How much oftener than the other a letter names the side it is about.
MOSTLY = 2


class _Reading:
    """One reading of one letter."""

    def __init__(self, text: Text, lexicon: Lexicon, written: date | None) -> None:
        self.text = text
        self.lexicon = lexicon
        self.layout: Layout = lay_out(text, lexicon)
        self.low = self.layout.low
        self.written = written or first_date(self.low, 0, min(len(self.low), 600))
        self.unread: list[Unread] = []
        self.named: Counter[str] = Counter()

    def letter(self) -> Letter:
        """Return what the letter says."""
        hits = list(self.lexicon.scan(self.low))
        hits += misspelled(self.low, self.lexicon)
        hits.sort(key=lambda hit: (hit.start, -hit.end))
        starts = [hit.start for hit in hits]
        mentions: list[Mention] = []
        context = Context(self.lexicon, self.low)
        for sentence in sentences(self.layout, self.lexicon):
            within = hits[
                bisect_left(starts, sentence.start) : bisect_right(starts, sentence.end - 1)
            ]
            context.enter(sentence)
            mentions += self._sentence(sentence, within, context)
        for cell in self.layout.cells:
            mentions += self._cell(cell)
        single = self._subject()
        mentions.sort(key=lambda one: (one.start, one.end, one.finding, one.side))
        final = resided(tuple(dict.fromkeys(mentions)), single)
        sections = tuple(
            Section(one.kind, one.title, *self.text.raw(one.start, one.end))
            for one in self.layout.sections
        )
        return Letter(
            final,
            facts_of(final),
            sections,
            tuple(dict.fromkeys(self.unread)),
            self.written.isoformat() if self.written else "",
            self.lexicon.vocabulary,
        )

    def _subject(self) -> str:
        """Return the side a letter is about: the only one, or the first and by far commonest."""
        if not self.named:
            return ""
        first = next(iter(self.named))
        return first if self.named[first] >= MOSTLY * self.named[opposite(first)] else ""

    # -- a sentence -----------------------------------------------------------------

    def _sentence(self, sentence: Sentence, hits: list[Hit], context: Context) -> Iterator[Mention]:
        words = self._sorted(sentence, hits, context)
        self._name_sides(words, context)
        scopes = self._scopes(words)
        if words.targets:
            results = Results(self.low, sentence.start, sentence.end, words.targets, words.results)
            yield from self._words_said(words, scopes, results)
        yield from self._measured(words, scopes)

    def _scopes(self, words: Words) -> dict[tuple[int, int], Scope]:
        """Return by its place what reaches each finding and each label of a sentence."""
        places = {(hit.start, hit.end): hit for hit in (*words.labels, *words.targets)}
        hits = [places[place] for place in sorted(places)]
        start, end = words.sentence.start, words.sentence.end
        scopes = Scopes(self.low, start, end, hits, words.scopes).read() if hits else []
        found = {(hit.start, hit.end): scope for hit, scope in zip(hits, scopes, strict=True)}
        if found:
            self._years(words, found)
        return found

    def _words_said(
        self, words: Words, scopes: dict[tuple[int, int], Scope], results: Results
    ) -> Iterator[Mention]:
        for target in words.targets:
            scope = scopes[target.start, target.end]
            for word in target.words:
                if not (word.finding.numeric or word.label or word.blocked):
                    yield from self._said(words, target, word, scope, results)

    def _sorted(self, sentence: Sentence, hits: list[Hit], context: Context) -> Words:
        """Sort what stands in a sentence; a modifier inside a finding's phrase is none."""
        words = Words(sentence)
        parts = [hit for hit in hits if "part" in hit.does]
        words.parts = longest(parts)
        context.parts(words.parts, sentence)
        named = []
        for hit in hits:
            kept = tuple(
                word for word in hit.words if counts(word, hit, sentence, context, self.layout)
            )
            if kept:
                whole = len(kept) == len(hit.words)
                named.append(hit if whole else replace(hit, words=kept))
        words.targets = [
            hit
            for hit in longest(hit for hit in named if not all(w.label for w in hit.words))
            if not all(word.blocked for word in hit.words)
        ]
        words.labels = longest(
            hit for hit in named if any(w.label or w.finding.numeric for w in hit.words)
        )
        spans = [
            (hit.start, hit.end)
            for hit in words.targets
            if any(not word.label and not word.finding.numeric for word in hit.words)
        ]
        free = [hit for hit in hits if hit.modifiers and not _overlaps(hit, spans)]
        words.scopes = strongest(hit for hit in free if hit.does & _SCOPES)
        words.results = longest(hit for hit in free if "result" in hit.does)
        sided = longest(hit for hit in free if "side" in hit.does or "pseudo" in hit.does)
        words.sides = side_hits(self.low, self.layout.plain, sentence.start, sentence.end, sided)
        return words

    def _name_sides(self, words: Words, context: Context) -> None:
        """Note which sides of the foot and leg the letter speaks of."""
        sentence = words.sentence
        if sentence.block.kind in ("family", "past"):
            return
        headed = sentence.block.side
        if headed and not dismissed(self.low, sentence.start, sentence.end):
            self.named.update(("left", "right") if headed == "both" else (headed,))
        for _, end, says in words.sides:
            if says == "both":
                self.named.update(("left", "right"))
            elif says != "other" and not (
                context.elsewhere(end, words.parts) or dismissed(self.low, end, sentence.end)
            ):
                self.named[says] += 1

    def _years(self, words: Words, scopes: dict[tuple[int, int], Scope]) -> None:
        """Put into the past what a year of its own clause says is long over."""
        sentence = words.sentence
        if sentence.block.kind == "imaging" or not dated(self.low, sentence.start, sentence.end):
            return
        now = self.written.year if self.written else None
        for target in words.targets:
            if all(word.finding.numeric for word in target.words):
                continue  # the year of a number is part of the measure
            scope = scopes[target.start, target.end]
            year = year_of(self.low, sentence.start, sentence.end, target)
            if year and (now is None or year < now - 1):
                scope.add("historical", "year")

    def _said(
        self, words: Words, target: Hit, word: Word, scope: Scope, results: Results
    ) -> Iterator[Mention]:
        """Yield what a sentence says of a finding that is present or absent, or answered."""
        turns = [] if word.says else results.turns(target, word.finding, words.sides)
        if turns:
            yield from self._turns(words, target, word, scope, turns)
            return
        answer = None if word.says else results.of(target, word)
        value = _denied(word, word.says or (answer.value if answer else ""), scope)
        if value in ("", "unclear"):
            return
        start, end = target.start, target.end
        if answer:
            start, end = min(start, answer.start), max(end, answer.end)
        status = self._status(words.sentence, scope, word)
        if status == "stated" and word.at and value == "absent" and not answer:
            # "no rest pain" denies a kind of pain, not the pain
            status = (
                "stated" if plainly_denied(self.low, words.sentence.start, start) else "uncertain"
            )
        rules = (word.id, *scope.rules, *((answer.rule,) if answer else ()))
        said = _Said(word.finding, value, status, (start, end), rules, _worst(target, word))
        yield from self._mentions(words, said, replace(target, start=start, end=end))
        past = word.finding.letter.past
        if past and status == "historical" and value == "present":
            earlier = self.lexicon.vocabulary[past]
            rules = (*rules, f"past:{word.finding.id}")
            said = replace(said, finding=earlier, status="stated", rules=rules)
            yield from self._mentions(words, said, replace(target, start=start, end=end))

    def _turns(
        self, words: Words, target: Hit, word: Word, scope: Scope, turns: list[tuple[str, Answer]]
    ) -> Iterator[Mention]:
        """Yield the two answers of a test that was done on both sides."""
        status = self._status(words.sentence, scope, word)
        for side, answer in turns:
            span = (min(target.start, answer.start), max(target.end, answer.end))
            rules = (word.id, answer.rule)
            said = _Said(word.finding, answer.value, status, span, rules, _worst(target, word))
            yield from self._mentions(words, said, target, (side, "side:turns"))

    def _mentions(
        self, words: Words, said: _Said, at: Hit, side: tuple[str, str] | None = None
    ) -> Iterator[Mention]:
        """Yield one mention a side; `at` is where to look for the side, if it is not told."""
        if not said.finding.sided:
            named, rule = "person", ""
        else:
            named, rule = side or self._side(words, at)
        start, end = self.text.raw(*said.span)
        rules = (*said.rules, rule) if rule else said.rules
        for one in ("left", "right") if named == "both" else (named,):
            yield Mention(
                finding=said.finding.id,
                side=one,
                value=said.value,
                status=said.status,
                start=start,
                end=end,
                section=words.sentence.block.kind,
                rules=rules,
                match=said.match,
            )

    def _side(self, words: Words, at: Hit) -> tuple[str, str]:
        sentence = words.sentence
        sides = Sides(self.low, sentence.start, sentence.end, words.sides)
        side, rule = sides.of(at, words.targets)
        if side == "other":
            side = opposite(next(iter(self.named))) if len(self.named) == 1 else ""
            rule = "side:other"
        if not side and sentence.block.side and self._under_heading(words, at):
            side, rule = sentence.block.side, "side:heading"
        return side or "unspecified", rule if side else ""

    def _under_heading(self, words: Words, at: Hit) -> bool:
        """Say whether a finding is on its heading's side: the sentence has named no other yet."""
        later = [start for start, _, _ in words.sides if start >= at.end]
        if len(later) < len(words.sides):
            return False
        return not later or any(mark in self.low[at.end : later[0]] for mark in ",;(")

    def _status(self, sentence: Sentence, scope: Scope, word: Word) -> str:
        status = scope.status
        if status == "historical" and (
            word.finding.letter.chronic or _never(scope) or (word.finding.numeric and _dates(scope))
        ):
            status = "uncertain" if "uncertain" in scope.by else "stated"
        if status in ("stated", "uncertain"):
            section = _SECTION_STATUS.get(sentence.block.kind, "")
            current = word.finding.letter.chronic or word.finding.numeric or scope.negated
            if section == "historical" and current:
                section = ""
            status = section or status
        return status

    # -- numbers --------------------------------------------------------------------

    def _measured(self, words: Words, scopes: dict[tuple[int, int], Scope]) -> Iterator[Mention]:
        sentence = words.sentence
        if not worth_reading(self.low, sentence.start, sentence.end):
            return
        found = numbers(self.low, sentence.start, sentence.end, self.written)
        if not found:
            return
        owners = list(
            {(hit.start, hit.end): hit for hit in (*words.targets, *words.labels)}.values()
        )
        named = [says for _, _, says in words.sides]
        two_sided = len({*named, *filter(None, (sentence.block.side,))}) > 1
        for one in measured(
            self.low, owners, found, self.lexicon, sides=words.sides, two_sided=two_sided
        ):
            if one.why:
                self.unread.append(Unread(*self.text.raw(*one.span), one.why, one.finding.id))
                continue
            scope = scopes[one.target.start, one.target.end] if one.target else Scope()
            yield from self._number(words, one, scope, two_sided)

    def _number(
        self, words: Words, one: Measured, scope: Scope, two_sided: bool
    ) -> Iterator[Mention]:
        """Yield what a number that was given to a finding says of it."""
        span = one.span
        if scope.negated:
            place = self.text.raw(*span)
            self.unread.append(Unread(*place, "a number that is denied", one.finding.id))
            return
        word = Word(one.finding, one.phrase)
        status = self._status(words.sentence, scope, word)
        if one.unsure and status == "stated":
            status = "uncertain"
        match = one.target.match if one.target else "exact"
        rules = (word.id, *scope.rules, one.rule)
        said = _Said(one.finding, one.value, status, span, rules, match)
        at = Hit(*span)
        if one.target and not two_sided:
            at = replace(one.target, start=span[0], end=span[1])
        elif two_sided:
            at = Hit(one.number.start, one.number.end)
        yield from self._mentions(words, said, at, (one.side, "side:turns") if one.side else None)

    # -- a table's cell -------------------------------------------------------------

    def _cell(self, cell: Cell) -> Iterator[Mention]:
        """Yield what one cell of a left and right table says of what its row names."""
        self.named[cell.side] += 1
        label = self.low[cell.label[0] : cell.label[1]]
        body = self.low[cell.start : cell.end].strip()
        if not body or body in ("-", "n/a", "not tested"):
            return
        joined = f"{label.strip()}: {body}"
        inner = _Reading(normalise(joined), self.lexicon, self.written)
        offset = joined.index(body, len(label.strip()))
        start, end = self.text.raw(cell.start, cell.end)
        for mention in inner.letter().mentions:
            if mention.side != "person" and mention.end > offset:
                rules = (*mention.rules, "side:table")
                yield replace(
                    mention,
                    side=cell.side,
                    start=start,
                    end=end,
                    section=cell.block.kind,
                    rules=rules,
                )


def _overlaps(hit: Hit, spans: list[tuple[int, int]]) -> bool:
    return any(hit.start < end and start < hit.end for start, end in spans)


def _worst(target: Hit, word: Word) -> str:
    matches = (target.match, word.match)
    return next((one for one in ("fuzzy", "variant") if one in matches), "exact")


def _never(scope: Scope) -> bool:
    """Say whether a denied past ("no previous fracture") is denied for all time."""
    timed = "history.before-the-event" in scope.by.get("historical", ())
    return scope.negated and not timed


def _dates(scope: Scope) -> bool:
    """Say whether the past that reaches a number is only its own date ("2 years ago")."""
    return not {"history.previous", "history.before-the-event"} & set(scope.by["historical"])


def _denied(word: Word, value: str, scope: Scope) -> str:
    """Return a finding's value with the denial around it, or nothing where it has none."""
    definition = word.finding
    if definition.kind == "presence":
        if word.says:
            return "" if scope.negated else word.says
        if value:
            return value
        return "absent" if scope.negated else "present"
    if graded(definition) or not scope.negated:
        return value
    if set(definition.values) == {"negative", "positive"}:
        return "negative" if value in ("", "positive", "negative") else ""
    return "none" if "none" in definition.values and not word.says else ""
