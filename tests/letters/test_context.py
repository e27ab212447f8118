"""Is a phrase read only where it is meant, and in all the spellings of one word?"""

from __future__ import annotations

import pytest

from plafond.intake.letter import Lexicon, read_letter
from plafond.vocabulary import Vocabulary
from wordings import WRITTEN, finding, lines, modifiers

TABLE = [
    # whole words, the longest phrase
    ("A stress fracture.", {"stress-fracture present"}),
    ("Refractured.", set()),
    ("Two fractures.", {"fracture present"}),
    # short words, of the part of the body that is meant
    ("The ankle is sore.", {"pain present"}),
    ("The knee is sore.", set()),
    ("The ankle is fine. The knee is sore.", set()),
    ("Ankle is sore. Swollen and stiff too.",
     {"pain present", "swelling present", "stiffness present"}),
    ("Heel pain.", {"heel-pain present"}),
    ("The heel is fine but ankle pain remains.", {"pain present"}),
    ("Right ankle:\nSwollen.", {"swelling right present"}),
    ("Swollen.", set()),
    # abbreviations, in their own case and with their context
    ("MN in the third web space.", {"neuroma present"}),
    ("MN is her surname.", set()),
    ("RA.", {"rheumatoid present"}),
    ("Her ra", set()),
    # known misspellings
    ("neurona", {"neuroma present"}),
    # spellings
    ("ankle edema", {"swelling present"}),
    ("ankle oedema", {"swelling present"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TABLE, ids=[text for text, _ in TABLE])
def test_a_phrase_counts_where_it_is_meant(said, text, expected):
    assert said(text) == expected


@pytest.fixture(scope="module")
def one_word():
    """Return what reads a text with one finding only."""

    def reader(*phrases, **letter):
        vocabulary = Vocabulary({"one": finding("one", *phrases, **letter)})
        lexicon = Lexicon.build(vocabulary, modifiers())
        return lambda text: lines(read_letter(text, lexicon, written=WRITTEN))

    return reader


def test_all_phrases_need_a_word_that_is_near(one_word):
    read = one_word("nodule", near=["tendon"])
    assert read("A nodule. The tendon is thick.") == set()
    assert read("A nodule in the tendon.") == {"one present"}
    assert read("Tendon:\nA nodule.") == {"one present"}


def test_no_phrase_counts_beside_a_word_that_forbids_it(one_word):
    read = one_word("locking", not_near=["knee"])
    assert read("Locking of the knee.") == set()
    assert read("Knee fine, ankle locking.") == {"one present"}


def test_a_phrase_inside_a_longer_one_that_means_something_else_is_not_read(one_word):
    read = one_word("sore", not_in=["sore throat"])
    assert read("A sore throat.") == set()
    assert read("A sore and a sore throat.") == {"one present"}


def test_what_is_chronic_stays_whatever_the_words_of_history_say(one_word):
    read = one_word("diabetes", chronic=True)
    assert read("History of diabetes.") == {"one present"}
    assert read("PMH: diabetes") == {"one present"}
