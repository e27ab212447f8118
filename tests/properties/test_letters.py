"""Do the laws of reading hold: evidence is text, and how a letter is typed changes nothing?"""

from __future__ import annotations

import re
import textwrap
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plafond.intake.letter import Letter, read_letter
from plafond.intake.letter.text import normalise
from wordings import LETTERS, WRITTEN, lines, small_lexicon

SNIPPETS = [
    "left ankle pain", "no fever", "Drawer 2+, tilt -ve", "?fracture", "R>L", "18/12", "11 x 8",
    " x 4 mm", "ABPI 0.7", "PMH:", "\n", "\r\n", ". ", ", ", "; ", "\t", "|", "  ", " or ", "but ",
    "he denies", "\u00a0", "\u2019s", "\ufb01bula", "Tine\u0301l", "\u2026", "\u2022 ", "- ",
    "(R)", "both ankles", "since 2023", "ankle swolen", "2-3 weeks", "\u00b2", "\u0301", "\u200b",
    "mother", "Left | Right", "Test\tLeft\tRight\n", "-\n", "\x0b", "\u0130", "\u00bd",
]  # fmt: skip
TEXTS = st.lists(st.sampled_from(SNIPPETS) | st.text(max_size=6), max_size=30).map("".join)
FLAT = {name: text.replace("%%\n", "\n") for name, text in LETTERS.items()}
NAMES = sorted(FLAT)


def read(text: str) -> Letter:
    return read_letter(text, small_lexicon(), written=WRITTEN)


def unwrapped(text: str) -> str:
    """Return a letter with one line a paragraph."""
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


@given(TEXTS)
def test_the_copy_knows_where_each_character_came_from(raw):
    text = normalise(raw)
    assert len(text.plain) == len(text.low)
    last = 0
    for index in range(len(text.plain)):
        start, end = text.raw(index, index + 1)
        assert last <= start < end <= len(raw)
        if raw[start:end].isascii() and text.plain[index].isalnum():
            assert text.plain[index] == raw[start:end]
        last = start


@given(TEXTS)
def test_evidence_is_a_stretch_of_the_raw_text(raw):
    if not any(char.isalnum() for char in raw):
        return
    letter = read(raw)
    for one in (*letter.mentions, *letter.not_understood):
        assert 0 <= one.start < one.end <= len(raw)
        assert raw[one.start : one.end].strip()
    for section in letter.sections:
        assert 0 <= section.start < section.end <= len(raw)
    for fact in letter.facts:
        assert fact.mentions
        assert {letter.mentions[index].value for index in fact.mentions} == {fact.value}
    letter.findings()


@pytest.mark.parametrize("name", NAMES)
def test_evidence_holds_the_phrase_that_was_read(name):
    for one in read(FLAT[name]).mentions:
        phrase = one.rules[0].partition("/")[2].lower()
        if not any(rule.startswith("dimensions") for rule in one.rules) and phrase != "age":
            evidence = " ".join(FLAT[name][one.start : one.end].lower().split())
            assert phrase.removesuffix(" test") in evidence.replace("-", " ") or phrase in evidence


@pytest.mark.parametrize("name", NAMES)
def test_each_letter_says_a_good_deal(name):
    assert len(lines(read(FLAT[name]))) >= 8


CHANGES = {
    "Windows line ends": lambda text: text.replace("\n", "\r\n"),
    "hard blanks": lambda text: text.replace(" ", "\u00a0"),
    "two blanks after a full stop": lambda text: text.replace(". ", ".  "),
    "decomposed letters": lambda text: unicodedata.normalize("NFD", text.replace("e", "\u00e9")),
    "upper case": str.upper,
    "typographic quotes and dashes": lambda text: text.replace("'", "\u2019").replace(
        "-", "\u2011"
    ),
    "one line a paragraph": unwrapped,
    "a byte order mark": lambda text: "\ufeff" + text,
    "trailing blanks": lambda text: text.replace("\n", "  \n"),
}


@pytest.mark.parametrize("change", sorted(CHANGES))
@pytest.mark.parametrize("name", NAMES)
def test_how_a_letter_is_typed_changes_nothing(name, change):
    assert lines(read(CHANGES[change](FLAT[name]))) == lines(read(FLAT[name]))


@pytest.mark.parametrize("width", range(60, 101, 5))
@pytest.mark.parametrize("name", NAMES)
def test_where_lines_are_wrapped_changes_nothing(name, width):
    parts = unwrapped(FLAT[name]).split("\n\n")
    wrapped = "\n\n".join(textwrap.fill(part, width) for part in parts)
    assert lines(read(wrapped)) == lines(read(FLAT[name]))


@pytest.mark.parametrize("name", NAMES)
def test_left_and_right_change_places_in_what_is_read(name):
    other = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}

    def swap(text: str) -> str:
        return re.sub(r"\b([Ll]eft|[Rr]ight)\b", lambda match: other[match[0]], text)

    expected = {swap(line) for line in lines(read(FLAT[name]))}
    assert lines(read(swap(FLAT[name]))) == expected


@pytest.mark.parametrize("name", NAMES)
def test_the_order_of_the_parts_changes_nothing(name):
    parts = [part.strip() for part in LETTERS[name].split("%%\n")]
    turned = "\n\n".join(reversed(parts))
    assert lines(read(turned)) == lines(read(FLAT[name]))


@pytest.mark.parametrize("bullet", ["- ", "* ", "\u2022 ", "1. "])
@pytest.mark.parametrize("name", NAMES)
def test_bullets_before_sentences_change_nothing(name, bullet):
    def listed(part: str) -> str:
        sentences = re.split(r"(?<=[.])\s+(?=[A-Z])", " ".join(part.split()))
        return "\n".join(bullet + sentence for sentence in sentences)

    parts = FLAT[name].strip().split("\n\n")
    text = "\n\n".join(part if ":" in part else listed(part) for part in parts)
    assert lines(read(text)) == lines(read(FLAT[name]))
