"""Would a slip in a rule be noticed: is every slip thought of, and is its fate told truly?

The trees are made up; what is said of them is checked against the oracle, case by case.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import product
from time import perf_counter

import pytest

from plafond.findings import Truth
from plafond.governance.cases import differing, shown_by
from plafond.governance.limits import beside, limits_of
from plafond.governance.mutants import mutants_of
from plafond.governance.mutation import Tally, equivalent, mutate, mutate_rule
from plafond.governance.tables import table_of
from plafond.governance.trees import apart, clause_places, expanded, nodes, pointer, put
from plafond.inference.evaluate import evaluate, evaluate_rulebook
from plafond.inference.explain import candidates
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Case,
    Compare,
    Is,
    Not,
    OneOf,
    clauses,
)
from plafond.vocabulary import Definition
from strategies import Seeded, case, condition, definitions, rule, rulebook, rulebook_of, support


def presence(name, derived=False):
    values = ("present", "absent")
    return Definition(name, name, "presence", True, "made-up", "?", values, derived=derived)


def quantity(name, unit, low, high):
    factor = {"wk": Decimal(10080), "1": Decimal(1), "mmol/mol": Decimal(1)}[unit]
    ends = {"low": low * factor, "high": high * factor}
    converts = "hba1c" if unit == "mmol/mol" else ""
    return Definition(
        name, name, "quantity", True, "made-up", "?", unit=unit, converts=converts, **ends
    )


KNOWN = {
    one.id: one
    for one in (
        presence("pain"),
        presence("fever"),
        presence("swelling"),
        presence("sick", derived=True),
        Definition("grade", "grade", "choice", True, "m", "?", ("one", "two", "three", "four")),
        Definition("test", "test", "choice", True, "m", "?", ("negative", "positive")),
        Definition("score", "score", "count", True, "m", "?", low=Decimal(0), high=Decimal(9)),
        quantity("time", "wk", 0, 100),
        quantity("index", "1", 0, 3),
        quantity("hba1c", "mmol/mol", 20, 200),
    )
}
WEEK = Decimal(10080)
PAIN, FEVER, SWELLING = (Is(name, "present") for name in ("pain", "fever", "swelling"))
TWELVE = Compare("time", "at_least", 12 * WEEK, shown="12 wk")


def alone(tree, *cases, **fields):
    """Return a rule with these cases, in a rulebook of its own, and what they show."""
    made = rule("made.rule", tree, cases=cases, **fields)
    return shown_by(rulebook_of(KNOWN, [made]), made)


def slips(tree):
    return [one.text for one in mutants_of(rule("made.rule", tree), KNOWN)]


# -- every slip ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tree", "texts"),
    [
        (PAIN, ["pain: absent instead of present"]),
        (
            Is("grade", "two"),
            [
                "grade: one instead of two",
                "grade: three instead of two",
                "grade: four instead of two",
                "grade: two or one instead of two",
                "grade: two or three instead of two",
            ],
        ),
        (
            OneOf("grade", ("three", "four")),
            [
                "grade: three or four or two instead of three or four",
                "grade: four instead of three or four",
                "grade: three instead of three or four",
            ],
        ),
        (
            TWELVE,
            [
                "time: above 12 wk instead of at least 12 wk",
                "time: at most 12 wk instead of at least 12 wk",
                "time: at least 11 wk instead of at least 12 wk",
                "time: at least 13 wk instead of at least 12 wk",
            ],
        ),
        (
            Compare("index", "below", Decimal("0.40"), shown="0.40 1"),
            [
                "index: at most 0.40 instead of below 0.40",
                "index: above 0.40 instead of below 0.40",
                "index: below 0.39 instead of below 0.40",
                "index: below 0.41 instead of below 0.40",
            ],
        ),
        (
            Between("score", Decimal(3), Decimal(5), shown=("3", "5")),
            [
                "score: from 2 to 5 instead of from 3 to 5",
                "score: from 4 to 5 instead of from 3 to 5",
                "score: from 3 to 4 instead of from 3 to 5",
                "score: from 3 to 6 instead of from 3 to 5",
            ],
        ),
        (
            Not(PAIN),
            ["`not` forgotten before pain", "pain: absent instead of present"],
        ),
        (
            All((PAIN, FEVER)),
            [
                "any instead of all of pain, fever",
                "without the part on pain",
                "without the part on fever",
                "pain: absent instead of present",
                "fever: absent instead of present",
            ],
        ),
        (
            AnyOf((PAIN, Not(FEVER))),
            [
                "all instead of any of pain, fever",
                "without the part on pain",
                "without the part on fever",
                "pain: absent instead of present",
                "`not` forgotten before fever",
                "fever: absent instead of present",
            ],
        ),
        (
            AtLeast(2, (PAIN, FEVER, SWELLING)),
            [
                "at least 1 instead of 2 of pain, fever, swelling",
                "at least 3 instead of 2 of pain, fever, swelling",
                "without the part on pain",
                "without the part on fever",
                "without the part on swelling",
                "pain: absent instead of present",
                "fever: absent instead of present",
                "swelling: absent instead of present",
            ],
        ),
        (All((PAIN,)), ["pain: absent instead of present"]),
        (
            AtLeast(2, (PAIN, FEVER)),
            [
                "at least 1 instead of 2 of pain, fever",
                "pain: absent instead of present",
                "fever: absent instead of present",
            ],
        ),
    ],
    ids=lambda value: type(value).__name__ if not isinstance(value, list) else "",
)
def test_every_slip_of_a_node_is_thought_of(tree, texts):
    assert slips(tree) == texts


def test_a_percentage_moves_in_per_cent_and_is_compared_in_the_own_unit():
    clause = Compare("hba1c", "at_least", Decimal(69), shown="8.5 %")
    moved = [one for one in mutants_of(rule("made.rule", clause), KNOWN) if "." in one.text]
    assert [one.text for one in moved][-2:] == [
        "hba1c: at least 8.4 % instead of at least 8.5 %",
        "hba1c: at least 8.6 % instead of at least 8.5 %",
    ]
    assert [one.tree.limit for one in moved[-2:]] == [Decimal(68), Decimal(70)]


def test_a_parameter_moves_wherever_it_is_used_and_never_in_one_place_alone():
    early = Compare("time", "at_least", 12 * WEEK, parameter="wait", shown="12 wk")
    late = Compare("time", "below", 12 * WEEK, parameter="wait", shown="12 wk")
    tree = AnyOf((All((PAIN, early)), All((FEVER, late))))
    moved = [one for one in mutants_of(rule("made.rule", tree), KNOWN) if "11 wk" in one.text]
    assert [one.text for one in moved] == ["wait: 11 wk instead of 12 wk"]
    limits = [one.limit for one in clauses(moved[0].tree) if isinstance(one, Compare)]
    assert limits == [11 * WEEK, 11 * WEEK]


def test_two_slips_never_have_the_same_words():
    pair = All((PAIN, FEVER))
    tree = AnyOf((pair, All((PAIN, SWELLING)), pair, AtLeast(2, (PAIN, FEVER, SWELLING))))
    texts = slips(tree)
    assert len(set(texts)) == len(texts)
    assert "pain: absent instead of present (in when/any/0/all/0/pain)" in texts


def test_a_slip_is_one_change_of_the_tree():
    choices = Seeded(3)
    for _ in range(200):
        known = definitions(choices, 5)
        tree = condition(choices, list(known.values()), 3)
        for mutant in mutants_of(rule("made.rule", tree), known):
            assert mutant.tree != tree, mutant.text


# -- fates --------------------------------------------------------------------------------

LONG = {"pain": "present", "time": "12 wk"}
GOOD = (
    Case("exactly", LONG, {}, "met"),
    Case("a week short", {**LONG, "time": "11 wk"}, {}, "not-met"),
    Case("a week more", {**LONG, "time": "13 wk"}, {}, "met"),
    Case("no pain", {**LONG, "pain": "absent"}, {}, "not-met"),
)


def fates(shown):
    return {one.mutant.text: (one.fate, one.because) for one in mutate_rule(shown).fates}


def test_a_rule_whose_cases_show_everything_kills_every_slip():
    mutated = mutate_rule(alone(All((PAIN, TWELVE)), *GOOD))
    assert mutated.tally == Tally(killed=8)
    assert mutated.tally.score == 1.0
    assert mutated.of("killed")[0].because == "a week short"


def test_without_the_case_on_the_limit_the_slip_on_the_limit_survives():
    found = fates(alone(All((PAIN, TWELVE)), *GOOD[1:]))
    survived = [text for text, (fate, _) in found.items() if fate == "survived"]
    assert survived == [
        "time: above 12 wk instead of at least 12 wk",
        "time: at least 13 wk instead of at least 12 wk",
    ]
    assert found[survived[0]][1] == "add a case like 'a week short' with time 12 wk"


def test_a_survivor_comes_with_a_case_that_would_kill_it():
    """The hint is taken at its word: the case it describes tells mutant and rule apart."""
    tree = AnyOf((All((PAIN, FEVER)), AtLeast(2, (SWELLING, TWELVE, Is("test", "positive")))))
    shown = alone(tree, Case("nothing", {}, {}, "unknown"))
    survivors = mutate_rule(shown).of("survived")
    assert len(survivors) > 10
    for one in survivors:
        changes = one.because.removeprefix("add a case like 'nothing' with ").split(" and ")
        given = dict(change.split(" ", 1) for change in changes if "not recorded" not in change)
        made = Case("hint", given, {}, "")
        (values,) = shown_by(shown.rulebook, replace(shown.rule, cases=(made,))).values
        assert evaluate(tree, values) is not evaluate(one.mutant.tree, values), one.because


def test_a_slip_no_patient_could_tell_is_not_counted():
    whole = Compare("score", "at_least", Decimal(4), shown="4")
    cases = (Case("four", {"score": 4}, {}, "met"), Case("three", {"score": 3}, {}, "not-met"))
    found = fates(alone(AnyOf((whole, Compare("score", "above", Decimal(3), shown="3"))), *cases))
    assert found["score: above 4 instead of at least 4"] == ("equivalent", "")
    assert found["without the part on score (in when/any/1/score)"][0] == "equivalent"


def test_a_waived_slip_counts_apart_and_lowers_the_score():
    text = "time: above 12 wk instead of at least 12 wk"
    waivers = [{"mutant": f" {text.replace(' instead', '  instead')}", "reason": "made up"}]
    shown = alone(All((PAIN, TWELVE)), *GOOD[1:], data={"waivers": waivers})
    assert fates(shown)[text] == ("waived", "made up")
    tally = mutate_rule(shown).tally
    assert tally.waived == 1
    assert tally.score == tally.killed / (tally.killed + tally.survived + 1)


def test_a_slip_in_a_derivation_is_judged_by_the_cases_of_the_derivation():
    deriving = rule(
        "made.sick", FEVER, "sick", cases=(Case("hot", {"fever": "present"}, {}, "met"),)
    )
    using = rule(
        "made.using",
        Is("sick", "present"),
        cases=(
            Case("sick", {"fever": "present"}, {}, "met"),
            Case("well", {"fever": "absent"}, {}, "not-met"),
        ),
    )
    mutation = mutate(rulebook_of(KNOWN, [deriving, using]))
    assert [one.rule.id for one in mutation.rules] == ["made.sick", "made.using"]
    assert mutation.tally == Tally(killed=2)


def test_an_equivalence_that_only_the_derivation_shows_is_found():
    book = rulebook_of(KNOWN, [rule("made.sick", All((FEVER, PAIN)), "sick")])
    sick = Is("sick", "present")
    assert equivalent(book, AnyOf((sick, FEVER)), FEVER)
    assert not equivalent(book, AnyOf((sick, SWELLING)), SWELLING)


# -- tables -------------------------------------------------------------------------------


def truth_in(row, bit):
    if row.met >> bit & 1:
        return Truth.MET
    return Truth.NOT_MET if row.failed >> bit & 1 else Truth.UNKNOWN


def test_a_table_says_what_the_oracle_says_in_every_combination():
    choices = Seeded(11)
    combinations = 0
    for _ in range(150):
        known = definitions(choices, 5)
        tree = condition(choices, list(known.values()), 3)
        table = table_of(known, tree)
        row = table.row(tree)
        assert not row.met & row.failed
        for bit in range(0, table.size, max(1, table.size // 60)):
            values = {
                finding: choice.value
                for finding, choice in table.at(1 << bit).items()
                if choice.value is not None
            }
            combinations += 1
            assert evaluate(tree, values) is truth_in(row, bit)
    assert combinations > 3000


def every_case(known, *trees):
    """Yield every case over every value the other room's candidates name, and nothing."""
    names = list(dict.fromkeys(name for tree in trees for name in support(tree)))
    marks = {name: [] for name in names}
    for tree in trees:
        for _, clause in clause_places(tree):
            for limit in limits_of(clause, known[clause.finding]):
                marks[clause.finding].append(limit)
    values = [[None, *candidates(known[name], marks[name])] for name in names]
    for held in product(*values):
        yield {name: one for name, one in zip(names, held, strict=True) if one is not None}


def test_two_conditions_are_called_equivalent_exactly_when_no_case_tells_them_apart():
    choices = Seeded(5)
    found = {True: 0, False: 0}
    while min(found.values()) < 40:
        known = definitions(choices, 4)
        tree = condition(choices, list(known.values()), 2)
        if len(support(tree)) > 3:
            continue
        book = rulebook_of(known, [rule("made.rule", tree)])
        for mutant in mutants_of(book.rules["made.rule"], known):
            same = all(
                evaluate(tree, values) is evaluate(mutant.tree, values)
                for values in every_case(known, tree, mutant.tree)
            )
            assert equivalent(book, tree, mutant.tree) is same, mutant.text
            found[same] += 1


def test_a_value_between_two_limits_is_thought_of_however_they_are_written():
    late = replace(TWELVE, word="above")
    early = Compare("time", "below", Decimal(85 * 1440), shown="85 d")
    tree = All((late, early))
    row = table_of(KNOWN, tree).row(tree)
    assert row.met, "84 d and a half lies between 12 wk and 85 d"


def test_a_value_outside_the_plausible_range_is_not_thought_of():
    book = rulebook_of(KNOWN, [])
    never = Compare("time", "below", Decimal(0), shown="0 wk")
    assert not table_of(KNOWN, never).row(never).met
    always = Compare("time", "at_least", Decimal(0), shown="0 wk")
    assert equivalent(book, always, Compare("time", "at_least", -WEEK, shown="-1 wk"))


def test_a_table_that_would_be_too_large_is_not_made():
    many = {f"p{index}": presence(f"p{index}") for index in range(40)}
    tree = All(tuple(Is(name, "present") for name in many))
    assert table_of(many, tree) is None
    book = rulebook_of(many, [rule("made.rule", tree)])
    slip = put(tree, (39,), Is("p39", "absent"))
    assert not equivalent(book, tree, slip)
    double = put(tree, (39,), AnyOf((Is("p39", "present"), Is("p39", "present"))))
    assert equivalent(book, tree, double), "the smallest parts that differ are small enough"


def test_supposing_a_clause_settles_it_everywhere():
    tree = All((PAIN, FEVER))
    table = table_of(KNOWN, tree)
    table.suppose(PAIN, True)
    assert not differing(table.row(tree), table.row(FEVER))
    table.suppose(PAIN, False)
    assert table.row(tree).failed == table.everything


# -- places in a tree ---------------------------------------------------------------------


def test_every_node_can_be_exchanged_and_found_again():
    choices = Seeded(2)
    for _ in range(100):
        known = definitions(choices, 4)
        tree = condition(choices, list(known.values()), 3)
        marked = Is("marked", "present")
        for way, node in nodes(tree):
            changed = put(tree, way, marked)
            assert put(changed, way, node) == tree
            assert dict(nodes(changed))[way] == marked
            if node != marked:
                mine, theirs = apart(tree, changed)
                assert mine == theirs or theirs in dict(nodes(changed)).values()


def test_trees_that_differ_in_a_count_and_in_a_part_differ_as_a_whole():
    one, two = AtLeast(1, (PAIN, FEVER)), AtLeast(2, (PAIN, SWELLING))
    assert apart(All((TWELVE, one)), All((TWELVE, two))) == (one, two)
    assert apart(one, replace(one, parts=(PAIN, SWELLING))) == (FEVER, SWELLING)


def test_a_pointer_is_the_way_through_the_file():
    tree = All((PAIN, AnyOf((Not(FEVER), AtLeast(1, (SWELLING,))))))
    assert [pointer(tree, way) for way, _ in nodes(tree)] == [
        "", "/all/0/pain", "/all/1", "/all/1/any/0", "/all/1/any/0/not/fever", "/all/1/any/1",
        "/all/1/any/1/of/0/swelling",
    ]  # fmt: skip


def test_a_derived_finding_stands_for_what_derives_it():
    choices = Seeded(13)
    for _ in range(60):
        made = rulebook(choices, rules=20, findings=4)
        values = case(choices, [one for one in made.vocabulary if not one.derived], 60)
        truths = evaluate_rulebook(made, values)
        for name, one in made.rules.items():
            assert evaluate(expanded(one.condition, made), values) is truths[name]


def test_a_ratio_is_shown_without_its_unit():
    clause = Compare("index", "below", Decimal("0.40"), shown="0.40 1")
    assert [limit.shown for limit in limits_of(clause, KNOWN["index"])] == ["0.40"]


def test_beside_a_limit_is_one_unit_in_the_last_place_written():
    (twelve,) = limits_of(TWELVE, KNOWN["time"])
    assert beside(twelve, KNOWN["time"], 1).value == 13 * WEEK
    days = replace(TWELVE, shown="84 d")
    (written_in_days,) = limits_of(days, KNOWN["time"])
    assert beside(written_in_days, KNOWN["time"], -1).value == 83 * 1440
    (tenths,) = limits_of(replace(TWELVE, shown="12.0 wk"), KNOWN["time"])
    assert beside(tenths, KNOWN["time"], 1).value == Decimal("12.1") * WEEK


# -- the knowledge ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def rulebook_and_time(frozen):
    start = perf_counter()
    mutation = mutate(frozen[0])
    return frozen[0], mutation, perf_counter() - start


def test_the_knowledge_is_mutated_within_seconds(rulebook_and_time, measured):
    made, mutation, seconds = rulebook_and_time
    tally = mutation.tally
    measured(
        f"mutation: {tally.killed} killed, {tally.survived} survived, {tally.waived} waived, "
        f"{tally.equivalent} equivalent of {len(made.rules)} rules, {tally.score:.1%}, "
        f"in {seconds:.1f} s"
    )
    assert len(mutation.rules) == len(made.rules)
    assert all(one.fates for one in mutation.rules), "a rule nobody could get wrong"
    assert tally.score > 0.9
    assert seconds < 20


def test_a_fate_is_what_the_whole_rulebook_says_with_the_slip_in_it(rulebook_and_time):
    """A sample, the slow way: the rule is exchanged and every case goes through all rules."""
    made, mutation, _ = rulebook_and_time
    choices = Seeded(17)
    pairs = [(one, fate) for one in mutation.rules for fate in one.fates]
    sample = [choices.one(pairs) for _ in range(60)]
    sample += [(one, fate) for one in mutation.rules for fate in one.fates if fate.fate != "killed"]
    for one, fate in sample[:120]:
        slipped = replace(one.rule, condition=fate.mutant.tree)
        book = replace(made, rules={**made.rules, slipped.id: slipped})
        recorded = shown_by(made, one.rule).recorded
        told = [
            evaluate_rulebook(made, values)[slipped.id]
            is not evaluate_rulebook(book, values)[slipped.id]
            for values in recorded
        ]
        assert any(told) is (fate.fate == "killed"), f"{one.rule.id}: {fate.mutant.text}"
