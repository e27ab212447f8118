"""Is a misspelled word read as what it is meant for, under the six rules and never beyond?"""

from __future__ import annotations

import pytest

MEANT = [
    ("ankle swolen", {"swelling present fuzzy"}),
    ("redenss", {"redness present fuzzy"}),
    ("no infecton", {"infection absent fuzzy"}),
    ("osteochondrla lesion", {"lesion present fuzzy"}),
]
NOT_MEANT = [
    ("condition", "coalition, which an English word is not meant for"),
    ("injection site inspected", "infection"),
    ("prednisolon", "a drug's name is never guessed"),
    ("nephropathy", "neuropathy"),
    ("pnkle", "too short, and another first letter"),
    ("sedness", "another first letter"),
    ("rednxxx", "three letters differ"),
]


@pytest.mark.parametrize(("text", "expected"), MEANT, ids=[text for text, _ in MEANT])
def test_a_misspelled_word_is_read_and_marked(said, text, expected):
    assert said(text) == expected


@pytest.mark.parametrize(("text", "_why"), NOT_MEANT, ids=[text for text, _ in NOT_MEANT])
def test_a_word_that_is_meant_as_it_stands_is_left_alone(read, text, _why):
    assert [one for one in read(text).mentions if one.match == "fuzzy"] == []


def test_what_was_guessed_may_raise_and_never_settles(read):
    letter = read("infecton")
    assert [fact.sure for fact in letter.facts] == [False]
    (record,) = letter.findings().records
    assert not record.sure


def test_a_guessed_denial_is_no_fact_at_all(read):
    assert read("no infecton").facts == ()
