"""Is what is written down read back as it was: conditions, units, findings, releases?"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from plafond.errors import KnowledgeError, ReleaseError
from plafond.findings import SIDES
from plafond.intake.structured import findings_of, read_findings, write_findings
from plafond.quantities import SPELLINGS, UNITS, Quantity, read_quantity, unit_code
from plafond.rulebook import (
    All,
    digest_of,
    freeze,
    read_condition,
    thaw,
    write_condition,
)
from plafond.settings import default_knowledge
from plafond.vocabulary import Vocabulary
from strategies import (
    Drawn,
    clause,
    conditions,
    documents,
    dump,
    rule,
    shuffled_parts,
    value,
    vocabularies,
)

# -- conditions ------------------------------------------------------------------------


@given(conditions())
def test_a_condition_written_as_a_rule_file_is_read_back(drawn):
    known, tree = drawn
    assert read_condition(dump(tree, known), Vocabulary(known), {}) == tree


@given(conditions(), st.data())
def test_the_meaning_of_a_condition_does_not_depend_on_the_order_of_its_parts(drawn, data):
    _, tree = drawn
    mixed = shuffled_parts(Drawn(data.draw), tree)
    assert write_condition(mixed) == write_condition(tree)
    assert rule("made.up", mixed).digest == rule("made.up", tree).digest


@given(conditions())
def test_the_meaning_of_a_condition_is_json(drawn):
    _, tree = drawn
    meaning = write_condition(tree)
    assert json.loads(rfc8785.dumps(meaning)) == meaning


@given(conditions(), st.text(max_size=20))
def test_the_digest_of_a_rule_does_not_change_with_its_wording(drawn, words):
    known, tree = drawn
    cited = read_condition(_cite(dump(tree, known), "somebody-1999"), Vocabulary(known), {})
    one = rule("made.up", tree)
    other = rule(
        "made.up", cited, title=words, statement=words, sources=("somebody-1999",), version=7
    )
    assert other.digest == one.digest


def _cite(data, source):
    """Return rule-file data with a citation on every clause."""
    if isinstance(data, list):
        return [_cite(one, source) for one in data]
    if not isinstance(data, dict):
        return data
    groups = {"all", "any", "not", "at_least", "of"}
    return {
        name: _cite(inner, source) if name in groups else {**inner, "cites": source}
        for name, inner in data.items()
    }


@given(conditions(), st.data())
def test_two_conditions_with_one_digest_say_the_same_of_every_case(drawn, data):
    """The digest keeps what matters: a part more is another meaning."""
    known, tree = drawn
    other = All((tree, clause(Drawn(data.draw), next(iter(known.values())))))
    assert rule("made.up", other).digest != rule("made.up", tree).digest


# -- units -----------------------------------------------------------------------------

NUMBERS = st.decimals(-99_999, 99_999, places=3)


@given(NUMBERS, st.sampled_from(sorted(UNITS)))
def test_a_quantity_written_in_words_is_read_back(number, unit):
    quantity = Quantity(number, unit)
    assert read_quantity(str(quantity)) == quantity


@given(NUMBERS, st.sampled_from(sorted(SPELLINGS)))
def test_every_spelling_of_a_unit_is_read(number, spelling):
    assert read_quantity(f"{number} {spelling}") == Quantity(number, unit_code(spelling))


@given(NUMBERS, st.sampled_from(sorted(UNITS)), st.data())
def test_a_quantity_in_another_unit_is_the_same_quantity(number, unit, data):
    dimension = UNITS[unit][0]
    same = sorted(code for code, (other, _) in UNITS.items() if other == dimension)
    other = data.draw(st.sampled_from(same))
    there = Quantity(number, unit).to(other)
    assert abs(there.base - Quantity(number, unit).base) <= Decimal("1e-18") * (abs(number) + 1)
    back = there.to(unit)
    assert abs(back.value - number) <= Decimal("1e-18") * (abs(number) + 1)


@given(NUMBERS, st.sampled_from(sorted(UNITS)), st.data())
def test_quantities_compare_exactly_across_units(number, unit, data):
    """The base unit is reached by multiplication alone, so equal stays equal."""
    factor = UNITS[unit][1]
    wholes = [
        code
        for code, (dimension, other) in UNITS.items()
        if dimension == UNITS[unit][0] and factor % other == 0
    ]
    finer = data.draw(st.sampled_from(wholes))
    times = factor / UNITS[finer][1]
    assert Quantity(number * times, finer).base == Quantity(number, unit).base


@given(vocabularies(), st.data())
def test_a_value_shown_is_read_back(known, data):
    choices = Drawn(data.draw)
    for one in known.values():
        held = value(choices, one)
        shown = int(held) if one.kind == "count" else one.show(held)
        assert one.read(shown) == held


# -- findings --------------------------------------------------------------------------


@given(vocabularies(), st.data())
def test_findings_written_down_are_read_back(known, data):
    vocabulary = Vocabulary(known)
    document = data.draw(documents(known))
    findings = read_findings(json.dumps(document).encode(), vocabulary)
    written = write_findings(findings, vocabulary)
    assert findings_of(written, vocabulary) == findings
    assert read_findings(json.dumps(written).encode(), vocabulary) == findings
    canonical = rfc8785.dumps(written)
    again = read_findings(canonical, vocabulary)
    assert sorted(again.records, key=_place) == sorted(findings.records, key=_place)
    assert rfc8785.dumps(write_findings(again, vocabulary)) == canonical


def _place(record):
    return record.origin.pointer


@given(vocabularies(), st.data())
def test_the_order_of_what_a_document_says_does_not_matter_to_what_is_known(known, data):
    vocabulary = Vocabulary(known)
    document = data.draw(documents(known))
    backwards: dict[str, Any] = {
        place: dict(reversed(said.items())) if isinstance(said, dict) else said
        for place, said in reversed(document.items())
    }
    one, other = (
        read_findings(json.dumps(said).encode(), vocabulary) for said in (document, backwards)
    )
    for side in SIDES:
        assert one.known(side, vocabulary) == other.known(side, vocabulary)


# -- releases --------------------------------------------------------------------------


def test_a_release_thawed_and_frozen_again_is_the_same_bytes(frozen):
    book, payload = frozen
    again = thaw(payload, "again")
    assert again.digest == book.digest == digest_of(payload)
    assert rfc8785.dumps(json.loads(payload)) == payload
    assert list(again.rules) == list(book.rules)
    assert {name: one.digest for name, one in again.rules.items()} == {
        name: one.digest for name, one in book.rules.items()
    }
    assert again.rules == book.rules
    assert again.options == book.options


def test_freezing_the_same_files_twice_gives_the_same_bytes():
    assert freeze(default_knowledge())[1] == freeze(default_knowledge())[1]


@pytest.mark.parametrize("place", range(0, 100, 9))
def test_a_release_with_one_byte_changed_is_refused_or_is_another_release(frozen, place):
    book, payload = frozen
    index = len(payload) * place // 100
    damaged = bytearray(payload)
    damaged[index] ^= 0x01
    try:
        other = thaw(bytes(damaged), "damaged")
    except (ReleaseError, KnowledgeError):
        return
    assert other.digest != book.digest


@pytest.mark.parametrize(
    "damage",
    [
        lambda payload: payload + b"\n",
        lambda payload: payload.replace(b'"rules":', b'"rules": ', 1),
        lambda payload: json.dumps(json.loads(payload), indent=1).encode(),
        lambda payload: payload[: len(payload) // 2],
        lambda _: b"[]",
        lambda _: b"{}",
        lambda _: b"",
        lambda _: b"\xff\xfe",
    ],
    ids=[
        "line end",
        "blank",
        "indented",
        "half",
        "list",
        "empty object",
        "empty",
        "no UTF-8",
    ],
)
def test_what_is_no_canonical_release_is_refused(frozen, damage):
    with pytest.raises(ReleaseError):
        thaw(damage(frozen[1]), "damaged")
