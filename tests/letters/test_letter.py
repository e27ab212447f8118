"""Does a letter become facts and findings that hold what it says, and nothing it does not say?"""

from __future__ import annotations

import pytest

from plafond.errors import DocumentSyntaxError, DocumentTooLargeError
from plafond.intake.letter import MOST_BYTES, read_letter
from plafond.intake.structured import findings_of, write_findings


def facts(letter) -> set[tuple[str, str, str, bool]]:
    return {(one.finding, one.side, one.value, one.sure) for one in letter.facts}


def test_only_what_is_stated_of_the_patient_now_is_a_fact(read):
    letter = read(
        "Left ankle pain. Previous DVT. Her mother has diabetes. If fever returns. Redness settled."
    )
    assert facts(letter) == {("pain", "left", "present", True)}
    assert len(letter.mentions) == 5


def test_a_fact_keeps_all_its_mentions(read):
    letter = read("Left ankle pain. The left ankle is painful.")
    (fact,) = letter.facts
    assert [letter.mentions[index].start for index in fact.mentions] == [5, 35]


def test_values_that_disagree_stay_side_by_side(read):
    letter = read("No fever. Later: fever.")
    assert facts(letter) == {
        ("fever", "person", "absent", True),
        ("fever", "person", "present", True),
    }
    assert letter.conflicts == (("fever", "person"),)
    known = letter.findings().known("left", letter.vocabulary)
    assert "fever" not in known.values
    assert set(known.raising("fever")) == {"present", "absent"}


def test_a_denial_does_not_settle_what_another_sentence_doubts(read):
    known = read("?DVT. No DVT on the scan.").findings().known("left", read("x").vocabulary)
    assert "dvt" not in known.values
    assert set(known.raising("dvt")) == {"present", "absent"}


def test_what_is_doubted_raises_and_gives_no_value(read):
    known = read("Possible DVT.").findings().known("left", read("x").vocabulary)
    assert "dvt" not in known.values
    assert known.raising("dvt") == ("present",)
    assert known.claims("dvt") == ()


def test_what_is_doubtfully_denied_is_no_news(read):
    assert read("DVT is unlikely.").facts == ()


def test_silence_says_nothing(read):
    letter = read("Thank you for seeing this gentleman.")
    assert letter.mentions == letter.facts == letter.not_understood == ()
    assert letter.findings().records == ()


LETTERS = [
    "Left ankle pain for 18/12. Drawer positive. ?infection. No DVT. BMI 31. Beighton 5/9.",
    "No fever. Later: fever. ?fever. ABPI R 0.7 L 0.9. HbA1c 8.1%.",
    "Weber B fracture of the right ankle. Bilateral ankle swelling. Dorsiflexion 10 deg.",
]


@pytest.mark.parametrize("text", LETTERS)
def test_findings_written_in_the_native_form_and_read_again_are_the_same(read, text):
    letter = read(text)
    findings = letter.findings("ref-1")
    document = write_findings(findings, letter.vocabulary)
    assert findings_of(document, letter.vocabulary) == findings


def test_reading_a_letter_twice_gives_the_same(read):
    for text in LETTERS:
        assert read(text) == read(text)


@pytest.mark.parametrize("text", ["", " \n\t", "...", "\u200b\ufeff", "?!"])
def test_a_text_without_a_letter_or_digit_is_refused(lexicon, text):
    with pytest.raises(DocumentSyntaxError):
        read_letter(text, lexicon)


def test_a_text_of_more_bytes_than_any_letter_needs_is_refused(lexicon):
    read_letter("a" * MOST_BYTES, lexicon)
    with pytest.raises(DocumentTooLargeError):
        read_letter("a" * (MOST_BYTES - 1) + "\u00e9", lexicon)


def test_the_letter_does_not_hold_the_text(read):
    secret = "Mrs Quigleymoor has left ankle pain and a Quigleymoor drawer."
    assert "quigleymoor" not in repr(read(secret)).lower()


def test_an_author_of_the_lexicon_can_try_a_sentence(monkeypatch, capsys):
    from plafond.intake.letter.__main__ import main

    monkeypatch.setattr("sys.argv", ["letter", "Left ankle pain.\\nHbA1c 64."])
    main()
    said = capsys.readouterr().out
    assert "ankle-pain" in said
    assert "not understood: 'HbA1c 64'" in said
