"""Is a condition read from a rule file, said in words, and true exactly where its words say?"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from plafond.errors import NotKnownError, QuantityError
from plafond.findings import Truth
from plafond.inference.evaluate import evaluate
from plafond.inference.explain import in_words
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Compare,
    Is,
    Not,
    OneOf,
    Parameter,
    clauses,
    holds,
    read_condition,
    say_clause,
    write_condition,
)
from plafond.vocabulary import Definition, Vocabulary
from strategies import rule, rulebook_of

DEFINITIONS = {
    "pain": Definition("pain", "Pain", "presence", True, "test", values=("present", "absent")),
    "site": Definition("site", "Site", "choice", True, "test", values=("front", "back", "both")),
    "wait": Definition("wait", "Wait", "quantity", True, "test", unit="wk",
                       low=Decimal(0), high=Decimal(100 * 10080)),
    "score": Definition("score", "Score", "count", True, "test", high=Decimal(9)),
    "index": Definition("index", "Index", "quantity", True, "test", unit="1", high=Decimal(3)),
}  # fmt: skip
VOCABULARY = Vocabulary(DEFINITIONS)
PARAMETERS = {
    "minimum": Parameter("minimum", "10 wk", "smith-1999", "verified"),
    "most": Parameter("most", "4", "jones-2001", "memory"),
}
WEEK = Decimal(10080)


def read(data):
    return read_condition(data, VOCABULARY, PARAMETERS)


# -- reading ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "tree"),
    [
        ("pain", Is("pain", "present")),
        ({"pain": {"is": "absent"}}, Is("pain", "absent")),
        ({"pain": {"is": "present", "cites": "a-1"}}, Is("pain", "present", "a-1")),
        ({"pain": {"cites": "a-1", "is": "present"}}, Is("pain", "present", "a-1")),
        ({"site": {"is_one_of": ["back", "front"]}}, OneOf("site", ("back", "front"))),
        ({"wait": {"at_least": "6 wk"}}, Compare("wait", "at_least", 6 * WEEK)),
        ({"wait": {"below": "42 d"}}, Compare("wait", "below", 6 * WEEK)),
        ({"score": {"above": 3}}, Compare("score", "above", Decimal(3))),
        ({"score": {"between": [2, 4]}}, Between("score", Decimal(2), Decimal(4))),
        ({"wait": {"between": ["1 wk", "14 d"]}}, Between("wait", WEEK, 2 * WEEK)),
        (
            {"wait": {"at_least": {"parameter": "minimum"}}},
            Compare("wait", "at_least", 10 * WEEK, "smith-1999", "minimum"),
        ),
        (
            {"score": {"at_most": {"parameter": "most"}}},
            Compare("score", "at_most", Decimal(4), "jones-2001", "most"),
        ),
        ({"not": {"pain": {"is": "present"}}}, Not(Is("pain", "present"))),
        ({"all": ["pain"]}, All((Is("pain", "present"),))),
        (
            {"any": ["pain", {"not": "pain"}]},
            AnyOf((Is("pain", "present"), Not(Is("pain", "present")))),
        ),
        ({"at_least": 1, "of": ["pain", "pain"]}, AtLeast(1, (Is("pain", "present"),) * 2)),
    ],
)
def test_a_condition_is_read(data, tree):
    assert read(data) == tree


@pytest.mark.parametrize(
    ("data", "error", "message"),
    [
        ("pian", NotKnownError, "no finding goes by 'pian'; did you mean pain"),
        ("site", QuantityError, "'present' is not an answer to site"),
        ({"site": {"is": "side"}}, QuantityError, "'side' is not an answer to site"),
        ({"site": {"is_one_of": ["front", "side"]}}, QuantityError, "'side' is not an answer"),
        ({"wait": {"at_least": "6"}}, QuantityError, "a number needs its unit"),
        ({"wait": {"at_least": "6 mm"}}, QuantityError, "mm is a unit of length, not of time"),
        ({"wait": {"at_least": "101 wk"}}, QuantityError, "'101 wk' is not plausible"),
        ({"wait": {"between": ["2 wk", "1 wk"]}}, QuantityError, "between 2 wk and 1 wk there is"),
        ({"score": {"above": "3"}}, QuantityError, "score is counted"),
        ({"score": {"above": 3, "below": 5}}, QuantityError, "one clause, one word"),
        ({"score": {"cites": "a-1"}}, QuantityError, "one clause, one word"),
        ({"at_least": 3, "of": ["pain"]}, QuantityError, "at least 3 of 1 parts can never be met"),
        ({"all": ["pain", {"any": ["pian"]}]}, NotKnownError, "no finding goes by 'pian'"),
    ],
)
def test_what_makes_no_condition_is_refused(data, error, message):
    with pytest.raises(error, match=message):
        read(data)


# -- truth -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "below", "on", "above"),
    [
        ({"score": {"at_least": 6}}, False, True, True),
        ({"score": {"above": 6}}, False, False, True),
        ({"score": {"at_most": 6}}, True, True, False),
        ({"score": {"below": 6}}, True, False, False),
        ({"score": {"between": [6, 9]}}, False, True, True),
        ({"score": {"between": [0, 6]}}, True, True, False),
        ({"score": {"between": [6, 6]}}, False, True, False),
        ({"wait": {"at_least": "6 wk"}}, False, True, True),
        ({"wait": {"above": "42 d"}}, False, False, True),
        ({"wait": {"at_most": "6 wk"}}, True, True, False),
        ({"wait": {"below": "6 wk"}}, True, False, False),
    ],
)
def test_a_limit_is_exact_on_it_and_beside_it(data, below, on, above):
    tree = read(data)
    step = Decimal(1) if tree.finding == "score" else WEEK
    for number, expected in zip((5, 6, 7), (below, on, above), strict=True):
        assert holds(tree, number * step) is expected
        assert evaluate(tree, {tree.finding: number * step}) is Truth.of(expected)
    assert evaluate(tree, {}) is Truth.UNKNOWN


def test_a_hairs_breadth_beside_a_limit_is_beside_it():
    tree = read({"wait": {"at_least": "6 wk"}})
    assert holds(tree, 6 * WEEK)
    assert not holds(tree, 6 * WEEK - Decimal("0.000001"))


@pytest.mark.parametrize(
    ("data", "value", "expected"),
    [
        ("pain", "present", True),
        ("pain", "absent", False),
        ({"pain": {"is": "absent"}}, "absent", True),
        ({"site": {"is": "front"}}, "both", False),
        ({"site": {"is_one_of": ["front", "both"]}}, "both", True),
        ({"site": {"is_one_of": ["front", "both"]}}, "back", False),
    ],
)
def test_a_choice_holds_for_its_values_only(data, value, expected):
    assert holds(read(data), value) is expected


MET, NOT, OPEN = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
KLEENE = [(one, other) for one in (MET, OPEN, NOT) for other in (MET, OPEN, NOT)]


@pytest.mark.parametrize(("one", "other"), KLEENE)
def test_groups_of_two_follow_the_tables_of_strong_kleene_logic(one, other):
    """Source of the tables: CQL and SQL three-valued logic, by the order not-met < open < met."""
    order = [NOT, OPEN, MET]
    values = {MET: {"score": Decimal(9)}, NOT: {"score": Decimal(0)}, OPEN: {}}
    tree = read({"score": {"at_least": 5}})
    pair = (tree, Compare("index", "at_least", Decimal(1)))
    known = {
        **values[one],
        **({} if other is OPEN else {"index": Decimal(2 if other is MET else 0)}),
    }
    least = min(one, other, key=order.index)
    most = max(one, other, key=order.index)
    assert evaluate(All(pair), known) is least
    assert evaluate(AnyOf(pair), known) is most
    assert evaluate(AtLeast(1, pair), known) is most
    assert evaluate(AtLeast(2, pair), known) is least
    assert evaluate(Not(tree), known) is order[2 - order.index(one)]


@pytest.mark.parametrize(
    ("present", "absent", "truth"),
    [(0, 0, OPEN), (1, 0, OPEN), (2, 0, MET), (2, 2, MET), (1, 2, OPEN), (1, 3, NOT), (0, 3, NOT),
     (0, 2, OPEN), (4, 0, MET), (0, 4, NOT)],
)  # fmt: skip
def test_two_of_four_are_met_or_out_of_reach_or_open(present, absent, truth):
    tree = AtLeast(2, tuple(Is(f"sign-{index}", "present") for index in range(4)))
    values = ["present"] * present + ["absent"] * absent
    assert evaluate(tree, {f"sign-{index}": one for index, one in enumerate(values)}) is truth


# -- words and meaning -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("pain", "present"),
        ({"site": {"is_one_of": ["front", "back"]}}, "front or back"),
        ({"wait": {"at_least": "6 months"}}, "at least 6 months"),
        ({"wait": {"below": "42 d"}}, "below 42 d"),
        ({"wait": {"at_most": {"parameter": "minimum"}}}, "at most 10 wk"),
        ({"score": {"above": 3}}, "above 3"),
        ({"score": {"between": [2, 4]}}, "from 2 to 4"),
        ({"wait": {"between": ["1 wk", "14 d"]}}, "from 1 wk to 14 d"),
        ({"index": {"below": "0.9 1"}}, "below 0.9"),
    ],
)
def test_a_clause_is_said_as_it_was_written(data, said):
    tree = read(data)
    assert say_clause(tree, VOCABULARY[tree.finding]) == said


def test_a_clause_that_was_never_written_is_said_in_the_findings_own_unit():
    tree = replace(read({"wait": {"at_least": "42 d"}}), shown="")
    assert say_clause(tree, VOCABULARY["wait"]) == "at least 6 wk"


def test_a_condition_is_said_in_indented_lines():
    tree = read(
        {"all": ["pain", {"not": {"site": {"is": "back"}}},
                 {"at_least": 1, "of": [{"any": [{"score": {"above": 3, "cites": "a-1"}}]}]}]}
    )  # fmt: skip
    assert in_words(rulebook_of(DEFINITIONS, []), tree) == [
        "all of:",
        "  Pain: present",
        "  not:",
        "    Site: back",
        "  at least 1 of:",
        "    any of:",
        "      Score: above 3  [a-1]",
    ]


def test_the_clauses_of_a_condition_come_in_the_order_they_are_written():
    tree = read(
        {"all": [{"score": {"above": 3}}, {"not": {"any": ["pain", {"site": {"is": "back"}}]}}]}
    )
    assert [one.finding for one in clauses(tree)] == ["score", "pain", "site"]


def test_the_meaning_leaves_out_who_said_so_and_in_which_unit():
    one = read({"all": ["pain", {"wait": {"at_least": "6 wk", "cites": "a-1"}}]})
    other = read({"all": [{"wait": {"at_least": "42 d"}}, {"pain": {"is": "present"}}]})
    assert one != other
    assert write_condition(one) == write_condition(other)
    assert rule("r", one).digest == rule("r", other).digest


MEANINGS = [
    "pain", {"pain": {"is": "absent"}}, {"not": "pain"}, {"all": ["pain"]}, {"any": ["pain"]},
    {"all": ["pain", "pain"]}, {"at_least": 1, "of": ["pain", "pain"]},
    {"at_least": 2, "of": ["pain", "pain"]}, {"score": {"at_least": 3}}, {"score": {"at_least": 4}},
    {"score": {"above": 3}}, {"score": {"between": [3, 4]}}, {"score": {"between": [3, 5]}},
    {"site": {"is_one_of": ["front", "back"]}}, {"site": {"is_one_of": ["front", "both"]}},
]  # fmt: skip


def test_what_differs_in_more_than_words_differs_in_its_digest():
    digests = {rule("r", read(data)).digest for data in MEANINGS}
    assert len(digests) == len(MEANINGS)
