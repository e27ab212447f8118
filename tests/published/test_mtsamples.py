"""Open sample transcriptions about foot and ankle: does the reader get through, and how much of it.

Source: mtsamples.com, free to use with credit. Texts stay outside: kept here are ids and counts,
and a failure shows nothing else. They are American dictations, no referral letters, so the counts
are a fence against sudden change rather than a measure of quality.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from plafond.intake.letter import Letter, Lexicon, read_letter

DATA = Path(__file__).parents[3] / "shared" / "data" / "mtsamples-foot-ankle.jsonl"


@pytest.fixture(scope="module")
def letters(rulebook) -> dict[str, tuple[int, Letter]]:
    """Each transcription's length and what was read of it, by its id."""
    if not DATA.is_file():
        pytest.skip("the transcriptions are not here")
    lexicon = Lexicon.of(rulebook)
    samples = (json.loads(line) for line in DATA.read_text(encoding="utf-8").splitlines())
    return {
        str(one["id"]): (len(one["text"]), read_letter(one["text"], lexicon)) for one in samples
    }


def test_every_transcription_is_read(letters, measured):
    mentions = [one for _, letter in letters.values() for one in letter.mentions]
    statuses = Counter(one.status for one in mentions)
    sides = Counter(one.side for one in mentions)
    measured(f"{len(letters)} transcriptions: {dict(statuses)}, {dict(sides)}")
    assert len(letters) >= 80
    assert mentions


def test_evidence_lies_within_its_transcription(letters):
    for name, (length, letter) in letters.items():
        places = [*letter.mentions, *letter.not_understood, *letter.sections]
        assert all(0 <= one.start < one.end <= length for one in places), name


def test_only_few_findings_are_read_twice_and_differently(letters, measured):
    quarrels = Counter(name for name, (_, letter) in letters.items() if letter.conflicts)
    measured(f"transcriptions with a finding both present and absent: {len(quarrels)}")
    assert len(quarrels) <= len(letters) / 3, sorted(quarrels)


def test_each_finding_that_is_read_becomes_a_record(letters):
    for name, (_, letter) in letters.items():
        assert len(letter.findings().records) == len(letter.facts), name
