"""What may rules use of a side: one value a finding, sides and quarrels sorted out?"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from plafond.findings import Finding, Findings, Origin, Truth
from plafond.rulebook import require_directory
from plafond.vocabulary import Computed, Definition, Vocabulary

SMALL = require_directory(Path(__file__).parents[1] / "data" / "knowledge").vocabulary


def define(name, unit, low, high, *, sided=True, formula="", inputs=()):
    return Definition(
        name, name, "quantity", sided, "test", unit=unit, low=Decimal(low), high=Decimal(high),
        computed=Computed(formula, inputs) if formula else None,
    )  # fmt: skip


MEASURED = Vocabulary(
    {
        one.id: one
        for one in (
            define("length", "mm", 0, 40),
            define("width", "mm", 0, 40),
            define("area", "mm2", 1, 1300, formula="ellipse-area", inputs=("length", "width")),
            define("weight", "kg", 2, 400, sided=False),
            define("height", "m", 400, 2600, sided=False),
            define("bmi", "kg/m2", 8, 100, sided=False, formula="body-mass-index",
                   inputs=("weight", "height")),
            define("ankle", "mm[Hg]", 0, 300),
            define("arm", "mm[Hg]", 0, 300),
            define("index", "1", 0, 3, formula="ratio", inputs=("ankle", "arm")),
            define("heat", "Cel", 15, 45),
            define("heat-difference", "Cel", 0, 30, formula="side-difference",
                   inputs=("heat",)),
            define("girth", "cm", 100, 900),
            define("girth-difference", "cm", -400, 400, formula="side-difference",
                   inputs=("girth",)),
        )
    }
)  # fmt: skip


def record(name, side, value, on="", pointer=""):
    definition = MEASURED[name] if name in MEASURED else SMALL[name]
    pointer = pointer or f"/{side}/{name}"
    return Finding(name, side, definition.read(value), Origin(pointer, on), str(value))


def known(side, *records, vocabulary=SMALL):
    return Findings(tuple(records)).known(side, vocabulary)


# -- sides -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("recorded", "sides"),
    [
        ((), ("unspecified",)),
        (("person",), ("unspecified",)),
        (("left",), ("left",)),
        (("right", "left", "person"), ("left", "right")),
        (("unspecified", "right"), ("right", "unspecified")),
    ],
)
def test_the_sides_are_those_something_is_recorded_of(recorded, sides):
    names = {"person": "age"}
    records = tuple(
        record(names.get(side, "knee-pain"), side, "30 a" if side == "person" else "present")
        for side in recorded
    )
    assert Findings(records).sides() == sides


def test_a_side_knows_its_own_findings_and_the_persons_and_not_the_other_sides():
    records = (
        record("knee-pain", "left", "present"),
        record("knee-swelling", "right", "present"),
        record("knee-wear", "unspecified", "severe"),
        record("age", "person", "30 a"),
    )
    assert set(known("left", *records).values) == {"knee-pain", "age"}
    assert set(known("right", *records).values) == {"knee-swelling", "age"}
    assert set(known("unspecified", *records).values) == {"knee-wear", "age"}


def test_what_nobody_recorded_is_not_known():
    assert known("left").values == {}
    assert known("left").claims("knee-pain") == ()


# -- quarrels --------------------------------------------------------------------------

PRESENT, ABSENT = ("knee-pain", "left", "present"), ("knee-pain", "left", "absent")


@pytest.mark.parametrize(
    ("claims", "value"),
    [
        ([(*PRESENT, "")], "present"),
        ([(*PRESENT, ""), (*PRESENT, "")], "present"),
        ([(*PRESENT, ""), (*ABSENT, "")], None),
        ([(*PRESENT, "2026-01-01"), (*ABSENT, "2026-01-02")], "absent"),
        ([(*ABSENT, "2026-01-02"), (*PRESENT, "2026-01-01")], "absent"),
        ([(*PRESENT, "2026-01-02"), (*ABSENT, "2026-01-02")], None),
        ([(*PRESENT, "2026-01-01"), (*ABSENT, "")], None),
        ([(*PRESENT, "2026-01-01"), (*ABSENT, "2025-01-01"), (*PRESENT, "")], "present"),
        ([(*PRESENT, "2025-01-01"), (*ABSENT, "2026-01-01"), (*PRESENT, "")], None),
        ([(*ABSENT, "2025-12-31"), (*PRESENT, "2026-01-01"), (*PRESENT, "2026-01-01")], "present"),
    ],
)
def test_the_newest_value_stands_and_what_cannot_be_told_apart_is_a_quarrel(claims, value):
    records = [
        record(*claim, pointer=f"/left/knee-pain/{index}") for index, claim in enumerate(claims)
    ]
    found = known("left", *records)
    assert found.values.get("knee-pain") == value
    assert [one.finding for one in found.conflicts] == ([] if value else ["knee-pain"])


def test_a_quarrel_keeps_both_records_with_their_origin_and_claims_both():
    records = (record(*PRESENT, pointer="/left/a"), record(*ABSENT, pointer="/left/b"))
    found = known("left", *records)
    (conflict,) = found.conflicts
    assert [one.origin.pointer for one in conflict.records] == ["/left/a", "/left/b"]
    assert found.claims("knee-pain") == ("present", "absent")
    assert "knee-pain" not in found.records


def test_one_quantity_in_two_units_is_no_quarrel():
    found = known(
        "left",
        record("pain-duration", "left", "26 wk", pointer="/left/pain-duration/0"),
        record("pain-duration", "left", "182 d", pointer="/left/pain-duration/1"),
    )
    assert found.conflicts == ()
    assert found.records["pain-duration"].shown == "26 wk", "the first as it was written"


def test_a_quarrel_about_the_person_is_known_on_every_side():
    records = (
        record("age", "person", "30 a", pointer="/person/age/0"),
        record("age", "person", "31 a", pointer="/person/age/1"),
        record("knee-pain", "left", "present"),
    )
    assert [one.side for one in known("left", *records).conflicts] == ["person"]
    assert "age" not in known("left", *records).values


def test_a_quarrel_on_one_side_is_none_on_the_other():
    records = (record(*PRESENT), record(*ABSENT), record("knee-pain", "right", "present"))
    assert known("right", *records).conflicts == ()
    assert known("right", *records).values == {"knee-pain": "present"}


# -- what is worked out ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("records", "finding", "value"),
    [
        ([("length", "left", "11 mm"), ("width", "left", "13.9 mm")], "area", "120.09"),
        ([("length", "left", "1.1 cm"), ("width", "left", "13.9 mm")], "area", "120.09"),
        ([("length", "left", "11 mm")], "area", None),
        ([("length", "left", "11 mm"), ("width", "right", "13.9 mm")], "area", None),
        ([("length", "left", "0.5 mm"), ("width", "left", "0.5 mm")], "area", None),
        ([("weight", "person", "81 kg"), ("height", "person", "1.8 m")], "bmi", "25"),
        ([("weight", "person", "81 kg"), ("height", "person", "180 cm")], "bmi", "25"),
        ([("ankle", "left", "85 mm[Hg]"), ("arm", "left", "100 mm[Hg]")], "index", "0.85"),
        ([("ankle", "left", "85 mm[Hg]"), ("arm", "left", "0 mm[Hg]")], "index", None),
        ([("ankle", "left", "300 mm[Hg]"), ("arm", "left", "1 mm[Hg]")], "index", None),
        ([("heat", "left", "30 Cel"), ("heat", "right", "33 Cel")], "heat-difference", None),
        ([("heat", "left", "33 Cel"), ("heat", "right", "30 Cel")], "heat-difference", "3"),
        ([("heat", "left", "33 Cel")], "heat-difference", None),
        ([("girth", "left", "40 cm"), ("girth", "right", "37 cm")], "girth-difference", "30"),
        ([("girth", "left", "37 cm"), ("girth", "right", "400 mm")], "girth-difference", "-30"),
    ],
)
def test_a_computed_quantity_fills_in_what_nobody_recorded(records, finding, value):
    found = known("left", *(record(*one) for one in records), vocabulary=MEASURED)
    assert found.values.get(finding) == (Decimal(value) if value else None)


def test_a_computed_quantity_says_what_it_was_worked_out_of():
    records = (record("length", "left", "10 mm"), record("width", "left", "10 mm"))
    worked = known("left", *records, vocabulary=MEASURED).records["area"]
    assert worked.origin.how == "computed by ellipse-area"
    assert worked.origin.pointer == "/left/length and /left/width"
    assert worked.shown == "78.54 mm2"


def test_what_somebody_recorded_stands_over_what_could_be_worked_out():
    records = [record(name, "left", "10 mm") for name in ("length", "width")]
    records.append(record("area", "left", "90 mm2"))
    assert known("left", *records, vocabulary=MEASURED).values["area"] == 90


def test_a_quarrelled_quantity_is_not_settled_by_working_it_out():
    records = [record(name, "left", "10 mm") for name in ("length", "width")]
    records += [
        record("area", "left", "90 mm2", pointer="/left/area/0"),
        record("area", "left", "80 mm2", pointer="/left/area/1"),
    ]
    found = known("left", *records, vocabulary=MEASURED)
    assert "area" not in found.values
    assert [one.finding for one in found.conflicts] == ["area"]


def test_a_quarrelled_input_works_nothing_out():
    records = [
        record("length", "left", "10 mm", pointer="/left/length/0"),
        record("length", "left", "11 mm", pointer="/left/length/1"),
        record("width", "left", "10 mm"),
    ]
    assert "area" not in known("left", *records, vocabulary=MEASURED).values


def test_a_side_nobody_named_is_compared_with_no_other():
    records = (
        record("heat", "unspecified", "30 Cel"),
        record("heat", "left", "33 Cel"),
        record("heat", "right", "36 Cel"),
    )
    assert "heat-difference" not in known("unspecified", *records, vocabulary=MEASURED).values


# -- truths ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "truth"),
    [(True, Truth.MET), (False, Truth.NOT_MET), (None, Truth.UNKNOWN)],
)
def test_nothing_is_unknown_and_never_not_met(answer, truth):
    assert Truth.of(answer) is truth


# -- what is only doubted --------------------------------------------------------------


def doubted(*claim, pointer=""):
    return replace(record(*claim, pointer=pointer), sure=False)


@pytest.mark.parametrize(
    ("records", "value", "quarrels", "raising"),
    [
        ([doubted(*PRESENT)], None, 0, {"present"}),
        ([doubted(*ABSENT)], None, 0, {"absent"}),
        ([record(*PRESENT), doubted(*PRESENT)], "present", 0, {"present"}),
        ([record(*PRESENT), doubted(*ABSENT)], "present", 0, {"present"}),
        ([record(*ABSENT), doubted(*PRESENT)], None, 1, {"present", "absent"}),
        ([record(*ABSENT, "2026-01-02"), doubted(*PRESENT, "2026-01-01")], "absent", 0, {"absent"}),
        ([record(*PRESENT), record(*ABSENT), doubted(*PRESENT)], None, 1, {"present", "absent"}),
    ],
)
def test_a_doubt_raises_and_settles_nothing_and_no_plain_no_closes_it(
    records, value, quarrels, raising
):
    found = known("left", *records)
    assert found.values.get("knee-pain") == value
    assert len(found.conflicts) == quarrels
    assert set(found.raising("knee-pain")) == raising


def test_a_doubt_is_no_claim_so_that_it_is_still_asked_about():
    found = known("left", doubted(*PRESENT))
    assert found.claims("knee-pain") == ()
    assert [one.id for one in found.doubts] == ["knee-pain"]


def test_a_doubt_about_the_person_is_known_on_every_side():
    records = (doubted("age", "person", "30 a"), record("knee-pain", "left", "present"))
    assert [one.id for one in known("right", *records).doubts] == ["age"]
