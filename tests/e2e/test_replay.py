"""Random patients over the whole vocabulary: every answer is given again, byte for byte.

Seeded, from nothing recorded to everything recorded of both ankles, in any unit, with dated values
and quarrels. Each is assessed and kept in a real archive, assessed again from the native form
written anew, and replayed from the archive. A thousand by name (soak), a hundred each time.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from plafond.findings import SIDES
from plafond.intake.structured import PLACES, read_findings, write_findings
from plafond.pipeline import Release, assess
from plafond.quantities import UNITS, plain
from plafond.storage import open_archive
from plafond.views.answer import answer_bytes
from plafond.views.desk import Desk
from plafond.views.live import LiveReleases
from plafond.vocabulary import Definition

FEW, MANY = 60, 1000
DAYS = ("2024-02-29", "2026-01-15", "2026-11-20")
AT = "2026-11-25T09:00:00Z"


def patients(vocabulary: Any, count: int) -> Iterator[bytes]:
    """Give documents in the native form, each fuller than the one before."""
    chance = random.Random(20261125)
    recordable = [one for one in vocabulary if not one.derived]
    for number in range(count):
        document = patient(chance, recordable, density=(number / (count - 1)) ** 4)
        document["reference"] = f"random-{number}"
        yield json.dumps(document).encode()


def patient(chance: random.Random, known: list[Definition], density: float) -> dict[str, Any]:
    document: dict[str, Any] = {}
    sides = chance.sample(SIDES, chance.choice((1, 1, 1, 2, 2, 3)))
    for place in (*sides, "person"):
        for definition in chance.sample(known, len(known)):
            fits = definition.sided == (place != "person")
            if fits and (density == 1 or chance.random() < density):
                document.setdefault(place, {})[definition.id] = recorded(chance, definition)
    return document


def recorded(chance: random.Random, definition: Definition) -> Any:
    """Give one value, or now and then a dated one, or a list of them that may quarrel."""
    roll = chance.random()
    if roll < 0.8:
        return value(chance, definition)
    if roll < 0.9:
        return dated(chance, definition)
    return [
        dated(chance, definition) if chance.random() < 0.5 else value(chance, definition)
        for _ in range(chance.randint(1, 3))
    ]


def dated(chance: random.Random, definition: Definition) -> dict[str, Any]:
    raw = value(chance, definition)
    quantity = raw if isinstance(raw, dict) else {"value": raw}
    return {**quantity, "on": chance.choice(DAYS)}


def value(chance: random.Random, definition: Definition) -> Any:
    if definition.kind == "count":
        return chance.randint(int(definition.low), int(definition.high))
    if definition.kind != "quantity":
        return chance.choice(definition.values)
    unit = chance.choice(definition.units)
    number = size(chance, definition, unit)
    if number == int(number) and chance.random() < 0.3:
        return {"value": int(number), "unit": unit}
    return f"{plain(number)} {unit}"


def size(chance: random.Random, definition: Definition, unit: str) -> Decimal:
    """Give a plausible number of this unit, with up to four decimals."""
    if definition.converts and unit == "%":
        return Decimal(chance.randint(40, 150)) / 10
    factor = UNITS[unit][1]
    low, high = definition.low / factor, definition.high / factor
    number = low + (high - low) * Decimal(chance.randint(0, 1000)) / 1000
    for decimals in (chance.randint(0, 4), 6):
        rounded = round(number, decimals)
        if low <= rounded <= high:
            return rounded
    return round((low + high) / 2, 6)


@pytest.fixture
def desk(frozen, engine, tmp_path) -> Iterator[Desk]:
    rulebook, payload = frozen
    folder = tmp_path / "releases"
    folder.mkdir()
    (folder / f"{rulebook.version}.json").write_bytes(payload)
    live = LiveReleases(tmp_path, "", engine)
    live.start()
    archive = open_archive(f"sqlite:///{tmp_path / 'archive.db'}")
    numbers = iter(range(MANY))
    name = "01a211ee-ea80-7000-8000-{:012x}".format
    yield Desk(live, archive, now=lambda: AT, new_id=lambda: name(next(numbers)))
    archive.close()


@pytest.mark.parametrize("count", [FEW, pytest.param(MANY, marks=pytest.mark.soak)])
def test_every_assessment_is_given_again_byte_for_byte(desk, release, count, measured):
    given = {}
    for document in patients(release.rulebook.vocabulary, count):
        answer = desk.assess(document)
        name = answer.record.assessment
        assert from_the_native_form(document, release, name) == answer.answer, name
        given[name] = answer.answer
    assert desk.archive.count() == len(given) == len(set(given.values())) == count
    for name, answer in given.items():
        assert desk.replay(name) == answer, name
    measured(f"replays: {count} random patients, every answer the same bytes again")


def from_the_native_form(document: bytes, release: Release, name: str) -> bytes:
    """Give the answer to what is read from a document that was written out and read again."""
    vocabulary = release.rulebook.vocabulary
    findings = read_findings(document, vocabulary)
    written = json.dumps(write_findings(findings, vocabulary), sort_keys=True).encode()
    again = read_findings(written, vocabulary)
    assert set(again.records) == set(findings.records), name
    return answer_bytes(assess(again, release, assessment=name, at=AT))


def test_the_random_patients_are_as_varied_as_they_claim(rulebook):
    vocabulary = rulebook.vocabulary
    documents = list(patients(vocabulary, FEW))
    written = [json.loads(document) for document in documents]
    seen = {name for one in written for place in PLACES for name in one.get(place, {})}
    recordable = {one.id for one in vocabulary if not one.derived}
    assert seen == recordable
    assert set(written[0]) == {"reference"}
    of_the_person = {one for one in recordable if not vocabulary[one].sided}
    assert set(written[-1]["person"]) == of_the_person
    quarrels = [
        one
        for one in (read_findings(document, vocabulary) for document in documents)
        if any(one.known(side, vocabulary).conflicts for side in one.sides())
    ]
    assert len(quarrels) > FEW / 10
