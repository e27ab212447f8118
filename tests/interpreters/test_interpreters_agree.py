"""Do the oracle, the compiled function and the engine say the same, ten thousand times over?

`Inference.truths` answers only where function and engine agree, so one comparison with the oracle
compares all three. Everything is seeded: a failure names its seed and comes back.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import HealthCheck, given, settings
from strategies import (
    CHOICES,
    DENSITIES,
    Seeded,
    case,
    clause,
    definitions,
    rule,
    rulebook_of,
    rulebooks,
    shuffled,
)
from strategies import cases as cases_of
from strategies import rulebook as random_rulebook

from plafond.findings import Truth
from plafond.inference.compile import Program
from plafond.inference.crosscheck import Inference
from plafond.inference.evaluate import evaluate, evaluate_rulebook
from plafond.inference.function import compile_function
from plafond.rulebook import AtLeast, Is, Not, clauses

BOOKS, RULES = 100, 100


def function_truths(book, values):
    program = Program(book)
    found = compile_function(program)(program.literals(values))
    return {
        name: Truth.of(True if code in found else False if code + 1 in found else None)
        for name, code in ((name, program.outcome(name)) for name in book.rules)
    }


def shapes(tree):
    """Count the kinds of node of a condition, to show that every operator took part."""
    yield type(tree).__name__ if not hasattr(tree, "word") else tree.word
    for part in getattr(tree, "parts", ()) or ([tree.part] if isinstance(tree, Not) else []):
        yield from shapes(part)


def test_ten_thousand_trees_at_every_density_are_equal_in_all_three(engine, record_property):
    trees, truths, seen, compared = 0, Counter(), Counter(), 0
    by_density = {density: Counter() for density in DENSITIES}
    for seed in range(BOOKS):
        choices = Seeded(seed)
        book = replace(
            random_rulebook(choices, rules=RULES, findings=24), digest=f"sha256:trees-{seed}"
        )
        inference = Inference(book, engine)
        process = engine.pid
        for density in DENSITIES:
            values = case(choices, list(book.vocabulary), round(100 * density))
            expected = evaluate_rulebook(book, values)
            assert inference.truths(values) == expected, f"seed {seed}, density {density}"
            by_density[density].update(expected.values())
            compared += len(expected)
        assert engine.pid == process, f"seed {seed} needed a second try"
        inference.close()
        trees += len(book.rules)
        seen.update(name for one in book.rules.values() for name in shapes(one.condition))
    truths = sum(by_density.values(), Counter())
    record_property("compared", compared)
    assert trees == BOOKS * RULES == 10_000
    assert compared == trees * len(DENSITIES)
    assert all(truths[truth] > compared / 10 for truth in Truth), truths
    decided = [1 - by_density[one][Truth.UNKNOWN] / (trees) for one in DENSITIES]
    assert decided[0] == 0, "nothing is decided where nothing is known"
    assert decided[-1] == 1, "everything is decided where everything is known"
    assert decided == sorted(decided)
    words = {"All", "AnyOf", "Not", "AtLeast", "Is", "OneOf", "Between"}
    assert all(seen[word] > 1000 for word in words | {"at_least", "above", "at_most", "below"}), seen


@given(rulebooks(), cases_of.__wrapped__ if False else None)
def _unused():
    pass
