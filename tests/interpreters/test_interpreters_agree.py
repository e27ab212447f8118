"""Do the oracle, the compiled function and the engine say the same, ten thousand times over?

`Inference.truths` answers only where function and engine agree, so one comparison with the oracle
compares all three. Everything is seeded: a failure names its seed and comes back.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from plafond.findings import Truth
from plafond.inference.compile import Program
from plafond.inference.crosscheck import Inference
from plafond.inference.evaluate import evaluate_rulebook
from plafond.inference.function import compile_function
from plafond.rulebook import AtLeast, Is, OneOf
from strategies import (
    DENSITIES,
    Drawn,
    Seeded,
    case,
    cases,
    definitions,
    rule,
    rulebook_of,
    rulebooks,
    shapes,
    some,
)
from strategies import rulebook as random_rulebook

BOOKS, RULES = 100, 100
SHAPES = (
    "All", "AnyOf", "Not", "AtLeast", "Is", "OneOf", "Between",
    "at_least", "above", "at_most", "below",
)  # fmt: skip


def by_function(book, values):
    program = Program(book)
    found = compile_function(program)(program.literals(values))
    truths = {}
    for name in book.rules:
        code = program.outcome(name)
        assert not {code, code + 1} <= found, f"{name} is both met and not met"
        truths[name] = Truth.of(True if code in found else False if code + 1 in found else None)
    return truths


def test_ten_thousand_trees_at_every_density_are_equal_in_all_three(engine, measured):
    compared, seen = 0, Counter()
    by_density = {density: Counter() for density in DENSITIES}
    for seed in range(BOOKS):
        choices = Seeded(seed)
        book = random_rulebook(choices, rules=RULES, findings=24)
        book = replace(book, digest=f"sha256:trees-{seed}")
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
        seen.update(name for one in book.rules.values() for name in shapes(one.condition))
    assert compared == BOOKS * RULES * len(DENSITIES) == 110_000
    truths = sum(by_density.values(), Counter())
    assert all(truths[truth] > compared / 10 for truth in Truth), truths
    assert all(seen[shape] > 1000 for shape in SHAPES), seen
    undecided = [by_density[density][Truth.UNKNOWN] for density in DENSITIES]
    assert undecided == sorted(undecided, reverse=True), "more known, more decided"
    assert (undecided[0], undecided[-1]) == (BOOKS * RULES, 0)
    counts = ", ".join(f"{truths[truth]} {truth.value}" for truth in Truth)
    measured(f"{BOOKS * RULES} trees, {compared} truths equal in all three: {counts}")


def test_at_least_is_exact_for_every_count_of_one_to_nine_parts(engine):
    known = {one.id: one for one in definitions(Seeded(0), 1).values()}
    first = next(iter(known.values()))
    known = {f"sign-{index}": replace(first, id=f"sign-{index}") for index in range(9)}
    rules = [
        rule(f"least.of-{size}.count-{count}", AtLeast(count, parts))
        for size in range(1, 10)
        for parts in [tuple(Is(name, "present") for name in list(known)[:size])]
        for count in range(1, size + 1)
    ]
    book = rulebook_of(known, rules, "sha256:at-least")
    inference = Inference(book, engine)
    choices = Seeded(1)
    for present in range(10):
        for absent in range(10 - present):
            names = some(choices, list(known), present + absent)
            values = dict.fromkeys(names[:present], "present")
            values |= dict.fromkeys(names[present:], "absent")
            truths = inference.truths(values)
            for one in rules:
                met = sum(values.get(part.finding) == "present" for part in one.condition.parts)
                failed = sum(values.get(part.finding) == "absent" for part in one.condition.parts)
                short = failed > len(one.condition.parts) - one.condition.count
                expected = True if met >= one.condition.count else False if short else None
                assert truths[one.id] is Truth.of(expected), (one.id, values)
    inference.close()


@given(rulebooks(), st.data())
def test_the_function_is_the_oracle(book, data):
    values = data.draw(cases({one.id: one for one in book.vocabulary}))
    assert by_function(book, values) == evaluate_rulebook(book, values)


def test_a_finding_that_is_one_of_all_its_values_is_known_only_when_it_is_recorded(engine):
    """Kleene logic is sound and incomplete: always true is not the same as known."""
    known = {one.id: one for one in definitions(Seeded(0), 3).values()}
    choice = known["choice-2"]
    book = rulebook_of(known, [rule("whole.domain", OneOf(choice.id, choice.values))], "sha256:all")
    inference = Inference(book, engine)
    assert inference.truths({}) == {"whole.domain": Truth.UNKNOWN}
    assert inference.truths({choice.id: choice.values[0]}) == {"whole.domain": Truth.MET}
    inference.close()


@given(st.data())
def test_what_is_not_in_a_rule_does_not_reach_it(data):
    """A finding no rule tests gives no literal at all."""
    choices = Drawn(data.draw)
    known = definitions(choices, 5)
    used = dict(list(known.items())[:3])
    book = random_rulebook(choices, rules=3, findings=3)
    program = Program(book)
    extra = {name: one for name, one in known.items() if name not in used}
    values = case(choices, list(extra.values()), 100)
    assert program.literals(values) == set()
