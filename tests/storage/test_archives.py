"""Do all archives do the same: keep what they are given, give it back, say no to the rest?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest

from plafond.errors import ArchiveError, NotKnownError
from plafond.storage import Record

ONE = Record(
    assessment="019a0000-0000-7000-8000-000000000001",
    at="2026-11-25T09:00:00Z",
    reference="tarrow/17",
    release_version="2026.1.0",
    release_digest="sha256:" + "a" * 64,
    everything=False,
    findings='{"left":{"giving-way":"present"},"recorded":"2026-11-20"}',
    answer_digest="sha256:" + "b" * 64,
    triage="ask-referrer",
)


@pytest.mark.parametrize(
    "record",
    [
        pytest.param(ONE, id="an ordinary one"),
        pytest.param(replace(ONE, reference=""), id="without a reference"),
        pytest.param(replace(ONE, everything=True), id="that lists everything"),
        pytest.param(replace(ONE, findings="{}"), id="with nothing recorded"),
        pytest.param(replace(ONE, findings='{"left":{"x":"5 °C, 38 μ"}}'), id="beyond ASCII"),
        pytest.param(replace(ONE, findings='{"left":"' + "x" * 260_000 + '"}'), id="very long"),
        pytest.param(replace(ONE, reference="r" * 64), id="with the longest reference"),
        pytest.param(replace(ONE, triage="not-arthroscopic"), id="with the longest triage"),
    ],
)
def test_a_record_is_given_back_as_it_was_kept(archive, record):
    archive.keep(record)
    assert archive.get(record.assessment) == record


@pytest.mark.parametrize("name", ["", "nothing", "019a0000-0000-7000-8000-000000000002", "'; --"])
def test_an_id_that_was_never_kept_is_not_known(archive, name):
    archive.keep(ONE)
    with pytest.raises(NotKnownError):
        archive.get(name)


def test_an_id_with_a_null_character_is_not_known_or_refused(archive):
    """PostgreSQL cannot even be asked for it."""
    with pytest.raises((NotKnownError, ArchiveError)):
        archive.get("\x00")


def test_an_id_is_kept_once_and_the_first_record_stays(archive):
    archive.keep(ONE)
    with pytest.raises(ArchiveError):
        archive.keep(replace(ONE, triage="act-now"))
    assert archive.get(ONE.assessment) == ONE
    assert archive.count() == 1


def test_records_are_counted(archive):
    assert archive.count() == 0
    for number in range(3):
        archive.keep(replace(ONE, assessment=str(number)))
    assert archive.count() == 3


def test_many_who_keep_at_once_lose_nothing(archive):
    records = [replace(ONE, assessment=f"id-{number}") for number in range(120)]
    with ThreadPoolExecutor(12) as pool:
        list(pool.map(archive.keep, records))
        found = list(pool.map(archive.get, [record.assessment for record in records]))
    assert found == records
    assert archive.count() == len(records)


def test_of_many_who_keep_the_same_id_at_once_one_succeeds(archive):
    def try_to_keep(number: int) -> bool:
        try:
            archive.keep(replace(ONE, triage=str(number)))
        except ArchiveError:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(try_to_keep, range(8))) == 1
    assert archive.count() == 1
