"""Is a raw value read against its finding, and is what does not fit named with what would?"""

from __future__ import annotations

from decimal import Decimal

import pytest

from plafond.errors import NotKnownError, QuantityError
from plafond.vocabulary import Definition, Vocabulary, nearest, written


def define(name, kind, **more):
    return Definition(name, f"The {name}", kind, sided=True, group="test", **more)


PAIN = define("pain", "presence", values=("present", "absent"))
SITE = define("site", "choice", values=("front", "back", "both"))
DEPTH = define("depth", "quantity", unit="mm", low=Decimal(0), high=Decimal(40))
WAIT = define("wait", "quantity", unit="wk", low=Decimal(0), high=Decimal(5000 * 7 * 1440))
INDEX = define("index", "quantity", unit="1", low=Decimal(0), high=Decimal(3))
SUGAR = define(
    "sugar", "quantity", unit="mmol/mol", low=Decimal(20), high=Decimal(200), converts="hba1c"
)
SCORE = define("score", "count", low=Decimal(0), high=Decimal(9))
ANGLE = define("angle", "quantity", unit="deg", low=Decimal(-40), high=Decimal(60))
VOCABULARY = Vocabulary({one.id: one for one in (PAIN, SITE, DEPTH, WAIT, INDEX, SUGAR, SCORE)})


@pytest.mark.parametrize(
    ("definition", "raw", "value"),
    [
        (PAIN, "present", "present"),
        (PAIN, "absent", "absent"),
        (SITE, "both", "both"),
        (DEPTH, "12 mm", Decimal(12)),
        (DEPTH, "1.2 cm", Decimal(12)),
        (DEPTH, {"value": 12, "unit": "mm"}, Decimal(12)),
        (DEPTH, {"value": Decimal("1.2"), "unit": "cm"}, Decimal(12)),
        (DEPTH, {"value": 12, "unit": "millimetres"}, Decimal(12)),
        (WAIT, "1 h", Decimal(60)),
        (WAIT, "26 wk", Decimal(26 * 7 * 1440)),
        (WAIT, "6 months", Decimal(6 * 43830)),
        (INDEX, "0.9", Decimal("0.9")),
        (INDEX, "90 %", Decimal("0.9")),
        (INDEX, {"value": 90, "unit": "%"}, Decimal("0.9")),
        (SUGAR, "53 mmol/mol", Decimal(53)),
        (SUGAR, "7.0 %", Decimal(53)),
        (SCORE, 0, Decimal(0)),
        (SCORE, 9, Decimal(9)),
        (SCORE, Decimal("5.0"), Decimal(5)),
        (ANGLE, "-10 deg", Decimal(-10)),
    ],
)
def test_a_value_is_read_in_base_units(definition, raw, value):
    assert definition.read(raw) == value


@pytest.mark.parametrize(
    ("definition", "raw"),
    [(DEPTH, "0 mm"), (DEPTH, "40 mm"), (DEPTH, "4 cm"), (SCORE, 9), (ANGLE, "-40 deg")],
)
def test_both_ends_of_a_range_are_in_it(definition, raw):
    assert definition.low <= definition.read(raw) <= definition.high


@pytest.mark.parametrize(
    ("definition", "raw", "message", "expected"),
    [
        (PAIN, "yes", "'yes' is not an answer to pain", "present or absent"),
        (PAIN, True, "True is not an answer", "present or absent"),
        (PAIN, None, "None is not an answer", "present or absent"),
        (PAIN, ["present"], "is not an answer", "present or absent"),
        (SITE, "Front", "'Front' is not an answer", "front or back or both"),
        (DEPTH, "40.1 mm", "'40.1 mm' is not plausible for depth", "from 0 to 40 mm"),
        (DEPTH, "-1 mm", "'-1 mm' is not plausible", "from 0 to 40 mm"),
        (DEPTH, "12", "a number needs its unit", "a unit such as mm"),
        (DEPTH, 12, "depth is a quantity", 'such as "40 mm"'),
        (DEPTH, Decimal(12), "depth is a quantity", 'such as "40 mm"'),
        (DEPTH, "12 kg", "kg is a unit of mass, not of length", "such as mm"),
        (DEPTH, "deep", "not a quantity", "a number and a unit"),
        (DEPTH, {"value": 12}, "depth is a quantity", 'such as "40 mm"'),
        (DEPTH, {"value": "12", "unit": "mm"}, "depth is a quantity", 'such as "40 mm"'),
        (DEPTH, {"value": True, "unit": "mm"}, "depth is a quantity", 'such as "40 mm"'),
        (DEPTH, {"value": 12, "unit": 3}, "a unit is text", "mm"),
        (DEPTH, {"value": 12, "unit": "ell"}, "the unit 'ell' is not known", "one of min"),
        (DEPTH, {"value": Decimal("1e400"), "unit": "mm"}, "not a plausible number", "below 10^9"),
        (DEPTH, {"value": Decimal("NaN"), "unit": "mm"}, "not a plausible number", "below 10^9"),
        (DEPTH, {"value": 12, "unit": "mm", "of": "x"}, "depth is a quantity", "such as"),
        (SUGAR, "7 mmol/L", "of substance concentration, not of amount", ""),
        (SUGAR, "300 mmol/mol", "not plausible for sugar", "from 20 to 200 mmol/mol"),
        (SUGAR, "1 %", "not plausible for sugar", "from 20 to 200 mmol/mol"),
        (SCORE, "5", "score is counted", "a whole number from 0 to 9"),
        (SCORE, Decimal("5.5"), "score is counted", "a whole number from 0 to 9"),
        (SCORE, True, "score is counted", "a whole number from 0 to 9"),
        (SCORE, Decimal("NaN"), "score is counted", "a whole number"),
        (SCORE, Decimal("Infinity"), "score is counted", "a whole number"),
        (SCORE, 10, "10 is not plausible for score", "a whole number from 0 to 9"),
        (SCORE, -1, "-1 is not plausible for score", "a whole number from 0 to 9"),
        (SCORE, 10**30, "is not plausible for score", "a whole number from 0 to 9"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_would(definition, raw, message, expected):
    with pytest.raises(QuantityError) as caught:
        definition.read(raw)
    assert message in str(caught.value)
    assert expected in caught.value.expected


@pytest.mark.parametrize(
    ("definition", "value", "shown"),
    [
        (PAIN, "present", "present"),
        (DEPTH, Decimal("12.50"), "12.5 mm"),
        (WAIT, Decimal(182 * 1440), "26 wk"),
        (WAIT, Decimal(43830), "4.3482 wk"),
        (INDEX, Decimal("0.90"), "0.9"),
        (SCORE, Decimal(5), "5"),
    ],
)
def test_a_value_is_shown_in_its_own_unit(definition, value, shown):
    assert definition.show(value) == shown


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        ("12 wk", "12 wk"),
        (" 12 \n wk ", "12 wk"),
        ({"value": 12, "unit": "weeks"}, "12 weeks"),
        ({"value": Decimal("1.50"), "unit": "cm"}, "1.5 cm"),
        (5, "5"),
        (Decimal("5.0"), "5"),
        ("positive", "positive"),
    ],
)
def test_a_value_is_kept_as_it_was_written(raw, text):
    assert written(raw) == text


def test_a_definition_says_which_units_it_takes_its_own_first():
    assert DEPTH.units == ("mm", "cm", "m")
    assert SUGAR.units == ("mmol/mol", "%")
    assert WAIT.units[0] == "wk"
    assert PAIN.units == SCORE.units == ()


def test_a_finding_that_is_not_there_is_named_with_the_nearest():
    with pytest.raises(NotKnownError, match="no finding goes by 'dept'; did you mean depth"):
        VOCABULARY["dept"]
    assert VOCABULARY.nearest("zzzz") == ()
    assert VOCABULARY.nearest("x" * 10_000) == ()


def test_the_nearest_are_at_most_three_and_the_best_comes_first():
    known = ["giving-way", "giving-away", "giving-ways", "giving-wav", "else"]
    assert nearest("giving-way", known)[0] == "giving-way"
    assert len(nearest("giving-way", known)) == 3


def test_a_vocabulary_is_in_one_order_whatever_it_was_made_from():
    backwards = Vocabulary({one.id: one for one in reversed(list(VOCABULARY))})
    assert [one.id for one in backwards] == [one.id for one in VOCABULARY]
    assert len(VOCABULARY) == 7
    assert "depth" in VOCABULARY
    assert "width" not in VOCABULARY


def test_only_numbers_are_numeric():
    assert [one.id for one in VOCABULARY if one.numeric] == [
        "depth", "index", "score", "sugar", "wait",
    ]  # fmt: skip
