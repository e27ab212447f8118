"""Would the cross-check see it if the engine ran a rule that is not quite the one it should?

Thirty seeded slips (another limit, another word, a part dropped, all for any, a not too many): the
engine is given the plan of the slip, the function keeps the original, and random cases are put to
both until they disagree. A slip that changes nothing is found by trying every case, and replaced.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from statistics import median

import pytest

from plafond.errors import InterpretersDisagreeError
from plafond.inference.compile import Program
from plafond.inference.crosscheck import EngineProcess, Inference, plan
from plafond.inference.evaluate import evaluate
from plafond.inference.explain import candidates
from plafond.rulebook import All, Condition, Rulebook, clauses
from plafond.vocabulary import Definition
from strategies import (
    Mutant,
    Seeded,
    case,
    condition,
    definitions,
    mutants,
    rule,
    rulebook_of,
    support,
)

MUTANTS = 30
MOST_CASES = 300
KINDS = {
    "negated", "not dropped", "part dropped", "all turned into any", "any turned into all",
    "count lowered", "count raised", "limit changed", "word changed", "value changed",
    "value dropped",
}  # fmt: skip


def trees(choices, known) -> list[Condition]:
    """Return conditions so small that every case of them can be tried."""
    found: list[Condition] = []
    while len(found) < 20:
        tree = condition(choices, list(known.values()), 2)
        if 2 <= len(support(tree)) <= 4 and len(list(clauses(tree))) <= 6:
            found.append(tree)
    return found


def every_case(known, *both: Condition):
    """Yield every case that could tell two conditions apart: each value, and nothing, of each."""
    names = list(dict.fromkeys(name for tree in both for name in support(tree)))
    limits = {name: [] for name in names}
    for tree in both:
        for one in clauses(tree):
            for name in ("limit", "low", "high"):
                if hasattr(one, name):
                    limits[one.finding].append(_Mark(getattr(one, name)))
    values = [[None, *candidates(known[name], limits[name])] for name in names]
    for chosen in product(*values):
        yield {name: one for name, one in zip(names, chosen, strict=True) if one is not None}


@dataclass(frozen=True)
class _Mark:
    """A limit, as `candidates` reads it of a test."""

    value: object


def differ(known, one: Condition, other: Condition) -> bool:
    return any(
        evaluate(one, values) is not evaluate(other, values)
        for values in every_case(known, one, other)
    )


@dataclass(frozen=True)
class Slip:
    """The findings, the conditions as they should be, and the one that is not as it should be."""

    known: dict[str, Definition]
    originals: list[Condition]
    index: int
    mutant: Condition

    def books(self, digest: str) -> tuple[Rulebook, Rulebook]:
        """Return the rulebook as it should be and the one with the slip.

        A rule that tests all there is to test stands first in both, so that the two number their
        literals alike and nothing but the slip makes a difference.
        """
        changed = [*self.originals]
        changed[self.index] = self.mutant
        tests = All(tuple(one for tree in [*self.originals, self.mutant] for one in clauses(tree)))
        books = []
        for trees in (self.originals, changed):
            rules = [rule(f"rule.{number}", tree) for number, tree in enumerate(trees)]
            books.append(rulebook_of(self.known, [rule("aa.every-test", tests), *rules], digest))
        return books[0], books[1]

    def cases_until_seen(self, process: EngineProcess, seed: int) -> int | None:
        """Return how many random cases it took until function and engine disagreed, if ever."""
        original, changed = self.books(f"sha256:slip-{seed}")
        inference = Inference(original, process)
        slip = Program(changed)
        assert slip.atoms == inference.program.atoms
        assert {one.code for one in slip.steps} == {one.code for one in inference.program.steps}
        process.drop(original.digest)
        process.load(original.digest, plan(slip))
        try:
            return self._first_seen(inference, Seeded(seed))
        finally:
            inference.close()

    def _first_seen(self, inference: Inference, choices: Seeded) -> int | None:
        for number in range(1, MOST_CASES + 1):
            try:
                values = case(choices, list(self.known.values()), choices.whole(0, 100))
                inference.truths(values)
            except InterpretersDisagreeError as error:
                assert f"rule.{self.index}" in error.found
                return number
        return None


@pytest.fixture(scope="module")
def process():
    own = EngineProcess()
    yield own
    own.stop()


def test_thirty_slips_are_all_seen(process, measured):
    choices = Seeded(2026)
    known = definitions(choices, 10)
    originals = trees(choices, known)
    slips: dict[str, list[tuple[int, Mutant]]] = {}
    for index, tree in enumerate(originals):
        for mutant in mutants(tree, known):
            slips.setdefault(mutant.what, []).append((index, mutant))
    assert set(slips) == KINDS
    needed, replaced, seen = [], 0, set()
    kinds = sorted(slips)
    while len(needed) < MUTANTS:
        kind = kinds[len(needed) % len(kinds)]
        index, mutant = choices.one(slips[kind])
        if not differ(known, originals[index], mutant.tree):
            replaced += 1
            continue
        slip = Slip(known, originals, index, mutant.tree)
        needed.append(slip.cases_until_seen(process, len(needed)))
        seen.add(kind)
    assert seen == KINDS
    assert None not in needed, needed
    measured(
        f"{len(needed)} slips seen after {median(needed)} random cases (median),"
        f" {max(needed)} at worst; {replaced} slips that changed nothing were replaced"
    )
    assert median(needed) <= 10, needed


def test_without_a_slip_nothing_is_seen(process):
    """The same arrangement without a slip: the cross-check does not cry for nothing."""
    choices = Seeded(2026)
    known = definitions(choices, 10)
    originals = trees(choices, known)
    assert Slip(known, originals, 3, originals[3]).cases_until_seen(process, 1) is None


def test_a_slip_that_changes_nothing_is_known_for_one():
    known = definitions(Seeded(1), 3)
    tree = condition(Seeded(4), [known["quantity-1"]], 0)
    assert not differ(known, tree, All((tree,)))
    assert all(differ(known, tree, mutant.tree) for mutant in mutants(tree, known))
