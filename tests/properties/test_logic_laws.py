"""Do the laws of three-valued logic hold for the oracle, and does order never matter?

The laws are asserted of the oracle; that the other interpreters say the same as the oracle is
asserted in `tests/interpreters/`.
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume, event, given
from hypothesis import strategies as st

from plafond.findings import Truth
from plafond.inference.compile import Program
from plafond.inference.crosscheck import Inference
from plafond.inference.evaluate import evaluate, evaluate_rulebook, negate
from plafond.inference.function import compile_function
from plafond.rulebook import All, AnyOf, AtLeast, Between, Compare, Is, Not, OneOf, Rulebook
from strategies import (
    Drawn,
    Seeded,
    case,
    cases,
    condition,
    conditions_and_cases,
    rulebooks,
    shuffled,
    shuffled_parts,
    some,
    support,
    value,
)
from strategies import rulebook as random_rulebook

TREE = conditions_and_cases()


@st.composite
def two_trees(draw):
    """Two conditions over one vocabulary, and a case."""
    known, first, values = draw(TREE)
    return first, condition(Drawn(draw), list(known.values()), 2), values


# -- more is known ---------------------------------------------------------------------


@given(TREE, st.data())
def test_recording_one_more_finding_never_flips_a_decided_truth(drawn, data):
    known, tree, values = drawn
    choices = Drawn(data.draw)
    unrecorded = [one for one in known.values() if one.id not in values]
    assume(unrecorded)
    before = evaluate(tree, values)
    event(before.value)
    for one in some(choices, unrecorded, len(unrecorded)):
        values = values | {one.id: value(choices, one)}
        after = evaluate(tree, values)
        assert before in (Truth.UNKNOWN, after)
        before = after
    assert before is not Truth.UNKNOWN, "everything is recorded, so everything is decided"


@given(rulebooks(), st.data())
def test_recording_one_more_finding_never_flips_a_rule_through_its_derivations(book, data):
    choices = Drawn(data.draw)
    recorded = [one for one in book.vocabulary if not one.derived]
    values, before = {}, evaluate_rulebook(book, {})
    for one in some(choices, recorded, len(recorded)):
        values[one.id] = value(choices, one)
        after = evaluate_rulebook(book, values)
        for rule, truth in before.items():
            assert truth in (Truth.UNKNOWN, after[rule]), rule
        before = after


def test_recording_one_more_finding_never_flips_what_the_engine_said(engine):
    flips = decided = 0
    for seed in range(10):
        choices = Seeded(seed)
        book = random_rulebook(choices, rules=60, findings=12)
        inference = Inference(book, engine)
        recorded = [one for one in book.vocabulary if not one.derived]
        values, before = {}, inference.truths({})
        for one in some(choices, recorded, len(recorded)):
            values[one.id] = value(choices, one)
            after = inference.truths(values)
            for rule, truth in before.items():
                decided += truth is not Truth.UNKNOWN
                flips += truth not in (Truth.UNKNOWN, after[rule])
            before = after
        inference.close()
    assert (flips, decided > 1000) == (0, True)


# -- negation --------------------------------------------------------------------------


@given(TREE)
def test_not_not_is_nothing(drawn):
    _, tree, values = drawn
    assert evaluate(Not(Not(tree)), values) is evaluate(tree, values)


@given(TREE)
def test_not_turns_met_and_not_met_round_and_leaves_unknown_alone(drawn):
    _, tree, values = drawn
    assert evaluate(Not(tree), values) is negate(evaluate(tree, values))


@given(two_trees())
def test_de_morgan(drawn):
    first, second, values = drawn
    one = evaluate(Not(All((first, second))), values)
    assert one is evaluate(AnyOf((Not(first), Not(second))), values)
    other = evaluate(Not(AnyOf((first, second))), values)
    assert other is evaluate(All((Not(first), Not(second))), values)


@given(TREE)
def test_a_comparison_and_its_opposite_are_each_others_negation(drawn):
    known, _, values = drawn
    opposites = {"at_least": "below", "above": "at_most", "at_most": "above", "below": "at_least"}
    for one in known.values():
        if one.numeric:
            middle = (one.low + one.high) / 2
            for word, opposite in opposites.items():
                tree = Compare(one.id, word, middle)
                assert evaluate(Not(tree), values) is evaluate(
                    Compare(one.id, opposite, middle), values
                )


# -- groups ----------------------------------------------------------------------------


@given(two_trees())
def test_all_and_any_are_thresholds(drawn):
    first, second, values = drawn
    parts = (first, second)
    assert evaluate(All(parts), values) is evaluate(AtLeast(2, parts), values)
    assert evaluate(AnyOf(parts), values) is evaluate(AtLeast(1, parts), values)


@given(TREE)
def test_a_group_of_one_is_its_part(drawn):
    _, tree, values = drawn
    for group in (All((tree,)), AnyOf((tree,)), AtLeast(1, (tree,))):
        assert evaluate(group, values) is evaluate(tree, values)


@given(two_trees())
def test_absorption(drawn):
    """a or (a and b) is a; a and (a or b) is a. Holds for unknown, too."""
    first, second, values = drawn
    absorbed = evaluate(first, values)
    assert evaluate(AnyOf((first, All((first, second)))), values) is absorbed
    assert evaluate(All((first, AnyOf((first, second)))), values) is absorbed


@given(TREE)
def test_a_tree_and_its_opposite_are_never_both_met(drawn):
    _, tree, values = drawn
    assert evaluate(All((tree, Not(tree))), values) is not Truth.MET
    assert evaluate(AnyOf((tree, Not(tree))), values) is not Truth.NOT_MET


@given(TREE)
def test_between_is_two_comparisons_and_one_of_is_several_values(drawn):
    known, _, values = drawn
    for one in known.values():
        if one.numeric:
            low, high = one.low, (one.low + one.high) / 2
            ends = All((Compare(one.id, "at_least", low), Compare(one.id, "at_most", high)))
            assert evaluate(Between(one.id, low, high), values) is evaluate(ends, values)
        else:
            some_values = one.values[:2]
            each = AnyOf(tuple(Is(one.id, name) for name in some_values))
            assert evaluate(OneOf(one.id, some_values), values) is evaluate(each, values)


@given(TREE)
def test_only_the_findings_a_condition_tests_matter(drawn):
    _, tree, values = drawn
    kept = {name: values[name] for name in values if name in support(tree)}
    assert evaluate(tree, kept) is evaluate(tree, values)


# -- order -----------------------------------------------------------------------------


@given(TREE, st.data())
def test_the_order_of_parts_and_of_findings_does_not_matter(drawn, data):
    _, tree, values = drawn
    choices = Drawn(data.draw)
    mixed = shuffled_parts(choices, tree)
    assert evaluate(mixed, shuffled(choices, values)) is evaluate(tree, values)


def _mixed(choices, book: Rulebook) -> Rulebook:
    """Return the same rulebook: rules in another order, parts of each in another order."""
    rules = {
        name: replace(one, condition=shuffled_parts(choices, one.condition))
        for name, one in shuffled(choices, book.rules).items()
    }
    return replace(book, rules=rules)


@given(rulebooks(), st.data())
def test_the_order_of_rules_parts_and_findings_does_not_matter_to_function_and_oracle(book, data):
    choices = Drawn(data.draw)
    values = data.draw(cases({one.id: one for one in book.vocabulary}))
    mixed = _mixed(choices, book)
    expected = evaluate_rulebook(book, values)
    assert evaluate_rulebook(mixed, shuffled(choices, values)) == expected
    program = Program(mixed)
    found = compile_function(program)(program.literals(shuffled(choices, values)))
    for name, truth in expected.items():
        code = program.outcome(name)
        assert (code in found, code + 1 in found) == (
            truth is Truth.MET,
            truth is Truth.NOT_MET,
        )


def test_the_order_of_rules_parts_and_findings_does_not_matter_to_the_engine(engine):
    for seed in range(10):
        choices = Seeded(seed)
        book = random_rulebook(choices, rules=60, findings=12)
        one = Inference(book, engine)
        other = Inference(_mixed(choices, book), engine)
        for percent in range(0, 101, 20):
            values = case(choices, list(book.vocabulary), percent)
            assert other.truths(shuffled(choices, values)) == one.truths(values)
        one.close()
        other.close()
