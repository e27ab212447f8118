"""What sufficed for a verdict, and what could settle an open one: cases worked out by hand.

The same against brute force, on random rulebooks, is in `tests/properties/test_explanations.py`.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from plafond.findings import Conflict, Finding, Known, Origin, Truth
from plafond.inference.compile import Program
from plafond.inference.evaluate import evaluate_rulebook
from plafond.inference.explain import Explainer, absorb, candidates, trace
from plafond.rulebook import All, AnyOf, AtLeast, Between, Compare, Is, Not, OneOf
from plafond.vocabulary import Definition
from strategies import derived_definition, rule, rulebook_of


def presence(name):
    return Definition(name, f"The {name}", "presence", True, "test", values=("present", "absent"))


DEFINITIONS = {
    **{name: presence(name) for name in "abcde"},
    "site": Definition("site", "Site", "choice", True, "test", values=("front", "back", "both")),
    "angle": Definition("angle", "Angle", "quantity", True, "test", unit="deg",
                        low=Decimal(0), high=Decimal(40)),
    "score": Definition("score", "Score", "count", True, "test", high=Decimal(9)),
    "derived-0": derived_definition(0),
    "derived-1": derived_definition(1),
}  # fmt: skip

A, B, C, D = (Is(name, "present") for name in "abcd")
STEEP, VERY_STEEP = (Compare("angle", "at_least", Decimal(limit)) for limit in (10, 15))
FLAT = Compare("angle", "below", Decimal(10))
DERIVED, TWICE = Is("derived-0", "present"), Is("derived-1", "present")


def explain(tree, values, derivations=()):
    """Return the explainer, the truth of the rule `asked`, and the literals of the case."""
    rules = [rule("asked", tree)]
    rules += [rule(f"derive.{name}", one, name) for name, one in derivations]
    book = rulebook_of(DEFINITIONS, rules)
    program = Program(book)
    truth = evaluate_rulebook(book, values)["asked"]
    return Explainer(book, program), truth, program.literals(values)


def sets(*names):
    """Return sets written as `ab`, or as words with blanks."""
    return {frozenset(one.split() if " " in one or len(one) > 2 else one) for one in names}


PRESENT, ABSENT = "present", "absent"


@pytest.mark.parametrize(
    ("tree", "values", "enough"),
    [
        (A, {"a": PRESENT, "b": PRESENT}, "a"),
        (A, {"a": ABSENT}, "a"),
        (All((A, B)), {"a": PRESENT, "b": PRESENT, "c": PRESENT}, "ab"),
        (All((A, B)), {"a": ABSENT, "b": PRESENT}, "a"),
        (All((A, B)), {"a": ABSENT, "b": ABSENT}, "a"),
        (AnyOf((A, B)), {"a": ABSENT, "b": PRESENT}, "b"),
        (AnyOf((A, B)), {"a": ABSENT, "b": ABSENT}, "ab"),
        (AnyOf((All((A, B, C)), D)), dict.fromkeys("abcd", PRESENT), "d"),
        (AnyOf((All((A, B)), All((C, D)))), dict.fromkeys("abcd", PRESENT), "ab"),
        (AnyOf((All((C, D)), All((A, B)))), dict.fromkeys("abcd", PRESENT), "ab"),
        (AtLeast(2, (A, B, C)), {"b": PRESENT, "c": PRESENT}, "bc"),
        (AtLeast(2, (A, B, C)), {"a": ABSENT, "c": ABSENT, "b": PRESENT}, "ac"),
        (Not(All((A, B))), {"b": ABSENT}, "b"),
        (Not(AnyOf((A, B))), {"a": ABSENT, "b": ABSENT}, "ab"),
        (All((STEEP, Compare("angle", "below", Decimal(15)))), {"angle": Decimal(12)}, "angle"),
        (Between("angle", Decimal(10), Decimal(15)), {"angle": Decimal(16)}, "angle"),
        (All((A, A, AnyOf((A, B)))), {"a": PRESENT, "b": PRESENT}, "a"),
        (AnyOf((A, Not(A))), {"a": ABSENT}, "a"),
    ],
)
def test_the_smallest_set_that_suffices(tree, values, enough):
    explainer, truth, literals = explain(tree, values)
    assert truth is not Truth.UNKNOWN
    (expected,) = sets(enough)
    assert explainer.suffices("asked", truth, literals) == expected


def test_nothing_suffices_for_an_open_verdict():
    explainer, truth, literals = explain(All((A, B)), {"a": PRESENT})
    assert truth is Truth.UNKNOWN
    assert explainer.suffices("asked", truth, literals) == frozenset()


@pytest.mark.parametrize(
    ("tree", "values", "meets", "clears"),
    [
        (A, {}, sets("a"), sets("a")),
        (All((A, B)), {}, sets("ab"), sets("a", "b")),
        (All((A, B)), {"a": PRESENT}, sets("b"), sets("b")),
        (AnyOf((A, B)), {}, sets("a", "b"), sets("ab")),
        (AnyOf((A, B)), {"a": ABSENT}, sets("b"), sets("b")),
        (AtLeast(2, (A, B, C)), {}, sets("ab", "ac", "bc"), sets("ab", "ac", "bc")),
        (AtLeast(2, (A, B, C)), {"a": PRESENT}, sets("b", "c"), sets("bc")),
        (AtLeast(2, (A, B, C)), {"a": ABSENT}, sets("bc"), sets("b", "c")),
        (AtLeast(3, (A, B, C, D)), {"a": ABSENT}, {frozenset("bcd")}, sets("b", "c", "d")),
        (Not(All((A, B))), {}, sets("a", "b"), sets("ab")),
        (AnyOf((All((A, B)), C)), {}, sets("c", "ab"), sets("ac", "bc")),
        (AnyOf((A, All((A, B)))), {}, sets("a"), sets("a")),
        # two tests of one finding: only what some value can do counts
        (All((STEEP, FLAT)), {}, set(), sets("angle")),
        (AnyOf((STEEP, FLAT)), {}, sets("angle"), set()),
        (All((STEEP, Not(VERY_STEEP))), {}, sets("angle"), sets("angle")),
        (All((VERY_STEEP, FLAT)), {}, set(), sets("angle")),
        (AnyOf((All((VERY_STEEP, A)), All((STEEP, B)))), {"angle": Decimal(12)}, sets("b"),
         sets("b")),
        (AnyOf((All((VERY_STEEP, A)), All((STEEP, B)))), {"angle": Decimal(15)}, sets("a", "b"),
         sets("ab")),
        (Between("angle", Decimal(10), Decimal(15)), {}, sets("angle"), sets("angle")),
        (Compare("angle", "above", Decimal(40)), {}, set(), sets("angle")),
        (Compare("angle", "at_least", Decimal(0)), {}, sets("angle"), set()),
        (All((Compare("score", "above", Decimal(3)), Compare("score", "below", Decimal(4)))), {},
         set(), sets("score")),
        (All((Compare("score", "above", Decimal(3)), Compare("score", "below", Decimal(5)))), {},
         sets("score"), sets("score")),
        # a choice has one value only
        (All((Is("site", "front"), Is("site", "back"))), {}, set(), sets("site")),
        (OneOf("site", ("front", "back", "both")), {}, sets("site"), set()),
        (AnyOf((Is("site", "front"), Not(Is("site", "front")))), {}, sets("site"), set()),
        (All((Not(Is("site", "front")), Not(Is("site", "back")), Not(Is("site", "both")))), {},
         set(), sets("site")),
        (All((Not(Is("site", "front")), Not(Is("site", "back")))), {}, sets("site"), sets("site")),
        (All((A, Is("a", ABSENT))), {}, set(), sets("a")),
    ],
)  # fmt: skip
def test_the_minimal_sets_that_could_settle(tree, values, meets, clears):
    explainer, truth, literals = explain(tree, values)
    assert truth is Truth.UNKNOWN
    assert set(explainer.meets("asked", literals, values)) == meets
    assert set(explainer.clears("asked", literals, values)) == clears
    both = set(explainer.settles("asked", literals, values))
    assert both == {one for one in meets | clears if not any(two < one for two in meets | clears)}


@pytest.mark.parametrize(
    ("tree", "values", "meets", "clears"),
    [
        (DERIVED, {}, sets("ab"), sets("a", "b")),
        (Not(DERIVED), {}, sets("a", "b"), sets("ab")),
        (Is("derived-0", ABSENT), {}, sets("a", "b"), sets("ab")),
        (All((DERIVED, C)), {}, {frozenset("abc")}, sets("a", "b", "c")),
        (All((DERIVED, A)), {}, sets("ab"), sets("a", "b")),
        (All((DERIVED, Is("a", ABSENT))), {}, set(), sets("a", "b")),
        (TWICE, {}, sets("ab", "c"), sets("ac", "bc")),
        (All((TWICE, DERIVED)), {"a": PRESENT}, sets("b"), sets("b")),
    ],
)
def test_sets_name_what_a_derived_finding_is_worked_out_of(tree, values, meets, clears):
    derivations = [("derived-1", AnyOf((DERIVED, C))), ("derived-0", All((A, B)))]
    explainer, truth, literals = explain(tree, values, derivations)
    assert truth is Truth.UNKNOWN
    assert set(explainer.meets("asked", literals, values)) == meets
    assert set(explainer.clears("asked", literals, values)) == clears


def test_sets_come_smallest_first_and_then_by_name():
    explainer, _, literals = explain(AnyOf((All((B, C, D)), All((C, A)), B)), {})
    assert explainer.meets("asked", literals, ()) == (frozenset("b"), frozenset("ac"))


# -- candidates ------------------------------------------------------------------------


def test_candidates_tell_every_two_tests_of_a_number_apart():
    book = rulebook_of(DEFINITIONS, [rule("r", All((STEEP, VERY_STEEP)))])
    tests = [one for one in Program(book).atoms if one.finding == "angle"]
    values = candidates(DEFINITIONS["angle"], tests)
    assert set(values) == {0, 5, 10, Decimal("12.5"), 15, Decimal("27.5"), 40}


def test_candidates_of_a_count_are_whole_and_of_a_choice_its_values():
    book = rulebook_of(DEFINITIONS, [rule("r", Compare("score", "above", Decimal(3)))])
    assert all(one == int(one) for one in candidates(DEFINITIONS["score"], Program(book).atoms))
    assert candidates(DEFINITIONS["site"], []) == ["front", "back", "both"]


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ([], []),
        (["a"], ["a"]),
        (["ab", "a", "b"], ["a", "b"]),
        (["abc", "bd", "ab", "cd"], ["ab", "bd", "cd"]),
        (["", "a", "b"], [""]),
        (["ab", "ba"], ["ab"]),
    ],
)
def test_what_holds_a_smaller_set_is_absorbed(given, kept):
    assert absorb(map(frozenset, given)) == tuple(map(frozenset, kept))


# -- traces ----------------------------------------------------------------------------


def known_of(values, conflicts=()):
    records = {
        name: Finding(name, "left", value, Origin(f"/left/{name}", "2026-01-01"), f"<{value}>")
        for name, value in values.items()
    }
    return Known("left", values, records, tuple(conflicts))


def traced(tree, values, derivations=(), conflicts=()):
    rules = [rule("asked", tree)]
    rules += [rule(f"derive.{name}", one, name) for name, one in derivations]
    book = rulebook_of(DEFINITIONS, rules)
    truths = evaluate_rulebook(book, values)
    return trace(book, book.rules["asked"], known_of(values, conflicts), truths)


def test_a_trace_is_the_tree_with_each_truth_value_and_origin():
    tree = All((A, Not(B), AtLeast(1, (AnyOf((STEEP, C)),))))
    line = traced(tree, {"a": PRESENT, "b": PRESENT, "angle": Decimal(12)})
    assert line["truth"] == "not-met"
    first, second, third = line["all"]
    assert first == {
        "finding": "a",
        "title": "The a",
        "clause": "present",
        "truth": "met",
        "value": "<present>",
        "origin": "/left/a",
    }
    assert (second["truth"], second["not"][0]["truth"]) == ("not-met", "met")
    assert (third["at_least"], third["truth"]) == (1, "met")
    (group,) = third["of"]
    assert [one["truth"] for one in group["any"]] == ["met", "unknown"]
    assert group["any"][0]["clause"] == "at least 10 deg"
    assert "value" not in group["any"][1]


def test_a_trace_shows_citations_and_named_thresholds():
    tree = Compare("angle", "at_least", Decimal(10), "smith-1999", "steep-from", "10 deg")
    line = traced(tree, {})
    assert (line["cites"], line["parameter"], line["clause"]) == (
        "smith-1999", "steep-from", "at least 10 deg",
    )  # fmt: skip
    assert "cites" not in traced(A, {})


def test_a_trace_shows_the_rule_a_derived_finding_comes_from():
    line = traced(All((DERIVED, C)), {"a": PRESENT, "b": PRESENT}, [("derived-0", All((A, B)))])
    derived = line["all"][0]
    assert (derived["truth"], derived["derived_by"]) == ("met", "derive.derived-0")
    assert derived["because"]["truth"] == "met"
    assert [one["finding"] for one in derived["because"]["all"]] == ["a", "b"]


def test_a_trace_says_that_a_finding_is_quarrelled_over():
    records = tuple(Finding("a", "left", one, Origin("/"), one) for one in (PRESENT, ABSENT))
    line = traced(All((A, B)), {"b": PRESENT}, conflicts=[Conflict("a", "left", records)])
    assert [one.get("conflict", False) for one in line["all"]] == [True, False]
    assert line["all"][0]["truth"] == "unknown"
