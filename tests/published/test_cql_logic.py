"""Is three-valued logic here what HL7's Clinical Quality Language publishes?

Source: CQL 1.5 reference, section 9-B, logical operators: truth tables of and, or, not, xor and
implies. The same 39 checks are published as test cases (cqframework/cql-tests, Apache-2.0); where
that file lies beside the project it has to agree with the tables below, row for row. What CQL
calls null is a finding nobody recorded. xor and implies are no clause words here: they are spelt
with `all`, `any` and `not`, by the definitions the reference gives.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from plafond.findings import Truth
from plafond.inference.compile import Program
from plafond.inference.crosscheck import plan
from plafond.inference.evaluate import evaluate_rulebook
from plafond.inference.function import compile_function
from plafond.rulebook import read_condition
from plafond.vocabulary import Definition, Vocabulary
from strategies import rule, rulebook_of

PUBLISHED = Path(__file__).parents[3] / "shared" / "data" / "cql-logic-tests.json"

#: T true, F false, N null; the last letter is the result.
TABLES = {
    "and": "TTT TFF TNN FTF FFF FNF NTN NFF NNN",
    "or": "TTT TFT TNT FTT FFF FNN NTT NFN NNN",
    "xor": "TTF TFT TNN FTT FFF FNN NTN NFN NNN",
    "implies": "TTT TFF TNN FTT FFT FNT NTT NFN NNN",
    "not": "TF FT NN",
}
ROWS = [(word, row[:-1], row[-1]) for word, rows in TABLES.items() for row in rows.split()]
LETTERS = {True: "T", False: "F", None: "N"}
RECORDED = {"T": "present", "F": "absent"}
TRUTHS = {"T": Truth.MET, "F": Truth.NOT_MET, "N": Truth.UNKNOWN}

NEITHER_NOR = [{"not": "first"}, {"not": "second"}]
#: Each operator as a rule file would spell it, the plainest spelling first.
SPELLINGS = {
    "and": [
        {"all": ["first", "second"]},
        {"at_least": 2, "of": ["first", "second"]},
        {"not": {"any": NEITHER_NOR}},
    ],
    "or": [
        {"any": ["first", "second"]},
        {"at_least": 1, "of": ["first", "second"]},
        {"not": {"all": NEITHER_NOR}},
    ],
    "xor": [
        {"all": [{"any": ["first", "second"]}, {"not": {"all": ["first", "second"]}}]},
        {"any": [{"all": ["first", {"not": "second"}]}, {"all": [{"not": "first"}, "second"]}]},
    ],
    "implies": [
        {"any": [{"not": "first"}, "second"]},
        {"not": {"all": ["first", {"not": "second"}]}},
    ],
    "not": [{"not": "first"}, {"first": {"is": "absent"}}, {"not": {"not": {"not": "first"}}}],
}
NAMES = {
    f"{word}.spelling-{number}": (word, tree)
    for word, trees in SPELLINGS.items()
    for number, tree in enumerate(trees, 1)
}


def definition(name):
    return Definition(
        id=name,
        title=name,
        kind="presence",
        sided=False,
        group="cql",
        values=("present", "absent"),
    )


BOOK = rulebook_of(
    {name: definition(name) for name in ("first", "second")},
    [
        rule(
            name,
            read_condition(tree, Vocabulary({n: definition(n) for n in ("first", "second")}), {}),
        )
        for name, (_, tree) in NAMES.items()
    ],
)
PROGRAM = Program(BOOK)


def by_outcomes(found):
    def truth(name):
        code = PROGRAM.outcome(name)
        assert not {code, code + 1} <= found, f"{name} is both"
        return Truth.of(True if code in found else False if code + 1 in found else None)

    return {name: truth(name) for name in BOOK.rules}


@pytest.fixture(scope="module")
def interpreters(engine):
    """The three interpreters of the tiny rulebook, each asked by itself."""
    function = compile_function(PROGRAM)
    engine.load("published-cql", plan(PROGRAM))
    yield {
        "the recursive evaluator": lambda values: evaluate_rulebook(BOOK, values),
        "the compiled function": lambda values: by_outcomes(function(PROGRAM.literals(values))),
        "durable-rules": lambda values: by_outcomes(
            engine.run("published-cql", sorted(PROGRAM.literals(values)))
        ),
    }
    engine.drop("published-cql")


INTERPRETERS = ("the recursive evaluator", "the compiled function", "durable-rules")


def values_of(letters):
    named = zip(("first", "second"), letters, strict=False)
    return {name: RECORDED[letter] for name, letter in named if letter != "N"}


def test_the_published_tables_have_thirty_nine_rows_and_none_twice():
    """CQL reference 9-B: nine rows for each of and, or, xor and implies, three for not."""
    assert len(ROWS) == len(set(ROWS)) == 39


@pytest.mark.parametrize("interpreter", INTERPRETERS)
@pytest.mark.parametrize(
    ("word", "letters", "expected"), ROWS, ids=[f"{w} of {a} is {e}" for w, a, e in ROWS]
)
def test_a_row_of_the_cql_tables_holds(interpreters, interpreter, word, letters, expected):
    """CQL reference 9-B; every spelling of the operator has to give the published result."""
    truths = interpreters[interpreter](values_of(letters))
    spelt = {name: truths[name] for name, (operator, _) in NAMES.items() if operator == word}
    assert len(spelt) >= 2
    assert spelt == dict.fromkeys(spelt, TRUTHS[expected])


def test_the_published_test_cases_are_the_tables_above():
    """cqframework/cql-tests, CqlLogicalOperatorsTest.xml: 39 of 39 rows, none left over."""
    if not PUBLISHED.exists():
        pytest.skip("the published CQL cases do not lie beside the project (shared/data)")
    cases = json.loads(PUBLISHED.read_text())["tests"]
    rows = {
        (case["op"], "".join(LETTERS[one] for one in case["args"]), LETTERS[case["expected"]])
        for case in cases
    }
    assert len(cases) == len(rows) == 39
    assert rows == set(ROWS)


@pytest.mark.parametrize("interpreter", INTERPRETERS)
def test_all_thirty_nine_published_cases_pass(interpreters, interpreter):
    """cqframework/cql-tests: the cases themselves, from their file, in each interpreter."""
    if not PUBLISHED.exists():
        pytest.skip("the published CQL cases do not lie beside the project (shared/data)")
    passed = 0
    for case in json.loads(PUBLISHED.read_text())["tests"]:
        letters = "".join(LETTERS[one] for one in case["args"])
        truth = interpreters[interpreter](values_of(letters))[f"{case['op']}.spelling-1"]
        assert truth is Truth.of(case["expected"]), case["name"]
        passed += 1
    assert passed == 39
