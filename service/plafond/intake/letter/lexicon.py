"""All words that read letters in one automaton, built once a release.

Takes a rulebook; gives `Lexicon`: every phrase of a finding and every modifier that stands in a
text, whole words only, the longest first. Refuses to know what follows from them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import ahocorasick

from plafond.intake.letter.text import fold
from plafond.rulebook import Modifier, Rulebook
from plafond.vocabulary import Definition, Vocabulary

#: British spellings and their American forms; a phrase with one is found in the other too.
SPELLINGS = (
    ("oed", "ed"),
    ("aes", "es"),
    ("haem", "hem"),
    ("aem", "em"),
    ("oesoph", "esoph"),
    ("noea", "nea"),
    ("rhoea", "rhea"),
    ("orthopaed", "orthoped"),
    ("tumour", "tumor"),
    ("colour", "color"),
    ("fibre", "fiber"),
    ("centre", "center"),
    ("metre", "meter"),
    ("manoeuvre", "maneuver"),
    ("isation", "ization"),
    ("ised", "ized"),
    ("leuco", "leuko"),
)


@dataclass(frozen=True, slots=True)
class Word:
    """One phrase of one finding, and what it needs to count.

    `says` is a value the phrase states by itself; `at` the parts of the body it counts at;
    `cased` an abbreviation in the one case it counts in, with `context` beside it; `label` marks
    what only labels a number, `blocked` what only keeps shorter phrases from counting; `near` and
    `not_near` are words beside which alone, or never, it counts.
    """

    finding: Definition
    phrase: str
    says: str = ""
    at: frozenset[str] = frozenset()
    cased: str = ""
    context: tuple[str, ...] = ()
    match: str = "exact"
    label: bool = False
    blocked: bool = False
    near: tuple[str, ...] = ()
    not_near: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Return the id an answer names: the finding and the phrase."""
        return f"{self.finding.id}/{self.phrase}"


@dataclass(frozen=True, slots=True)
class Hit:
    """Where some words stand in the copy of a text, and all that they are."""

    start: int
    end: int
    words: tuple[Word, ...] = ()
    modifiers: tuple[Modifier, ...] = ()
    match: str = "exact"
    does: frozenset[str] = frozenset()


#: A key's length, what it is, and what its modifiers do.
_Entry = tuple[int, tuple[Word, ...], tuple[Modifier, ...], frozenset[str]]


@dataclass
class _Key:
    words: list[Word] = field(default_factory=list)
    modifiers: list[Modifier] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The words of one release, ready to be looked for; see `Lexicon.of`."""

    vocabulary: Vocabulary
    headings: Mapping[str, str]
    abbreviations: frozenset[str]
    vocables: frozenset[str]
    fuzzy: Mapping[str, tuple[str, ...]]
    ages: tuple[Definition, ...]
    _automaton: Any
    _entries: tuple[_Entry, ...]

    @classmethod
    def of(cls, rulebook: Rulebook) -> Lexicon:
        """Build the lexicon of a rulebook."""
        return cls.build(rulebook.vocabulary, rulebook.modifiers)

    @classmethod
    def build(cls, vocabulary: Vocabulary, modifiers: Sequence[Modifier]) -> Lexicon:
        """Build the lexicon of these findings under these modifiers."""
        keys: dict[str, _Key] = {}
        for definition in vocabulary:
            if not definition.derived:
                for phrase, word in _words(definition):
                    keys.setdefault(phrase, _Key()).words.append(word)
        for modifier in modifiers:
            if modifier.does not in ("heading", "abbreviation"):
                for phrase in modifier.phrases:
                    keys.setdefault(fold(phrase), _Key()).modifiers.append(modifier)
        return _build(vocabulary, modifiers, keys)

    def scan(self, low: str, start: int = 0, end: int = -1) -> Iterator[Hit]:
        """Yield whatever stands in a text in lower case as whole words, by where it ends."""
        text, entries = low, self._entries
        stop = len(text) if end < 0 else end
        for last, index in self._automaton.iter(text, start, stop):
            length, words, modifiers, does = entries[index]
            begin, after = last - length + 1, last + 1
            if begin > 0 and text[begin].isalnum() and text[begin - 1].isalnum():
                continue
            if after < stop and text[after].isalnum() and text[last].isalnum():
                after = _plural(text, after)
                if after and (words or "part" in does):  # a modifier has no plural
                    yield Hit(begin, after, words, *_parts_of(modifiers))
                continue
            yield Hit(begin, after, words, modifiers, "exact", does)


def _parts_of(
    modifiers: tuple[Modifier, ...],
) -> tuple[tuple[Modifier, ...], str, frozenset[str]]:
    parts = tuple(one for one in modifiers if one.does == "part")
    return parts, "variant", frozenset(("part",)) if parts else frozenset()


def _plural(text: str, after: int) -> int:
    """Return where a plural ends that begins as a phrase does, or 0."""
    for ending in ("s", "es"):
        stop = after + len(ending)
        if text.startswith(ending, after) and not text[stop : stop + 1].isalnum():
            return stop
    return 0


def longest(hits: Iterable[Hit]) -> list[Hit]:
    """Return the longest of overlapping hits, the leftmost first."""
    chosen: list[Hit] = []
    for hit in sorted(hits, key=lambda one: (one.start, -one.end)):
        if not chosen or hit.start >= chosen[-1].end:
            chosen.append(hit)
    return chosen


def strongest(hits: Iterable[Hit]) -> list[Hit]:
    """Return the longest of overlapping hits wherever they begin, in reading order."""
    chosen: list[Hit] = []
    cluster: list[Hit] = []
    reach = -1
    for hit in sorted(hits, key=lambda one: one.start):
        if hit.start >= reach:
            chosen += _strongest(cluster)
            cluster = []
        cluster.append(hit)
        reach = max(reach, hit.end)
    return chosen + _strongest(cluster)


def _strongest(cluster: list[Hit]) -> list[Hit]:
    """Return the longest hits of a run of overlapping ones."""
    if len(cluster) < 2:
        return cluster
    chosen: list[Hit] = []
    for hit in sorted(cluster, key=lambda one: (one.start - one.end, one.start)):
        if all(hit.end <= one.start or one.end <= hit.start for one in chosen):
            chosen.append(hit)
    return sorted(chosen, key=lambda one: one.start)


def holds(low: str, start: int, end: int, word: str) -> bool:
    """Say whether a word or phrase stands between two places, whole or as a plural."""
    at = low.find(word, start, end)
    while at >= 0:
        after = at + len(word)
        free = at == 0 or not low[at - 1].isalnum()
        if free and (not low[after : after + 1].isalnum() or _plural(low, after)):
            return True
        at = low.find(word, at + 1, end)
    return False


def _words(definition: Definition) -> Iterator[tuple[str, Word]]:
    """Yield each phrase of a finding, as it is looked for, and what it is."""
    near = tuple(map(fold, definition.letter.near))
    not_near = tuple(map(fold, definition.letter.not_near))
    for phrase, word in _worded(definition):
        yield phrase, replace(word, near=near, not_near=not_near)


def _worded(definition: Definition) -> Iterator[tuple[str, Word]]:
    letter = definition.letter
    for phrase in definition.phrases:
        yield from _spelled(Word(definition, phrase))
    at: dict[str, set[str]] = {}
    for part, phrases in letter.at.items():
        for phrase in phrases:
            at.setdefault(phrase, set()).add(part)
    for phrase, parts in at.items():
        yield from _spelled(Word(definition, phrase, at=frozenset(parts)))
    for phrase in letter.variants:
        yield fold(phrase), Word(definition, phrase, match="variant")
    for phrase, context in letter.abbreviations.items():
        folded = tuple(fold(one) for one in context)
        yield fold(phrase), Word(definition, phrase, cased=phrase, context=folded)
    for phrase in letter.not_in:
        yield from _spelled(Word(definition, phrase, blocked=True))
    for value, phrases in letter.says.items():
        for phrase in phrases:
            yield from _spelled(Word(definition, phrase, says=value))
    for phrase in letter.measure.beside:
        yield from _spelled(Word(definition, phrase, label=True))


def _spelled(word: Word) -> Iterator[tuple[str, Word]]:
    phrase = fold(word.phrase)
    yield phrase, word
    american = phrase
    for british, other in SPELLINGS:
        american = american.replace(british, other)
    if american != phrase:
        yield american, word


def _build(
    vocabulary: Vocabulary, modifiers: Sequence[Modifier], keys: Mapping[str, _Key]
) -> Lexicon:
    automaton = ahocorasick.Automaton()
    entries: list[_Entry] = []
    vocables: set[str] = set()
    for phrase, key in keys.items():
        if not phrase:
            continue
        automaton.add_word(phrase, len(entries))
        words = tuple({word.id: word for word in reversed(key.words)}.values())[::-1]
        does = frozenset(one.does for one in key.modifiers)
        entries.append((len(phrase), words, tuple(key.modifiers), does))
        vocables.update(phrase.split())
    if entries:
        automaton.make_automaton()
    return Lexicon(
        vocabulary=vocabulary,
        headings={fold(one): m.says for m in _of(modifiers, "heading") for one in m.phrases},
        abbreviations=frozenset(fold(p) for m in _of(modifiers, "abbreviation") for p in m.phrases),
        vocables=frozenset(vocables),
        fuzzy=_fuzzy(keys),
        ages=tuple(one for one in vocabulary if "age" in one.letter.measure.times),
        _automaton=automaton,
        _entries=tuple(entries),
    )


def _of(modifiers: Sequence[Modifier], does: str) -> Iterator[Modifier]:
    return (modifier for modifier in modifiers if modifier.does == does)


def _fuzzy(keys: Mapping[str, _Key]) -> dict[str, tuple[str, ...]]:
    """Return by initial the words a misspelling may be meant for, no drug's name among them."""
    found = {
        token
        for phrase, key in keys.items()
        if any(not (w.finding.letter.exact or w.blocked or w.label) for w in key.words)
        for token in phrase.split()
        if len(token) >= 6 and token.isalpha()
    }
    return {
        first: tuple(sorted(w for w in found if w[0] == first)) for first in {w[0] for w in found}
    }
