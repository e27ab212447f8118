"""Does `verify` find what a careful reviewer would, with its file and line, and nothing else?

A small rulebook about an elbow, made up here, passes every check. Each fault is made in a copy of
it, and must be said in one line at the right place.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from textwrap import dedent

import pytest

from plafond.governance import completeness, numbers
from plafond.governance.cases import case_truth, with_derived
from plafond.governance.places import places_of
from plafond.governance.verify import verify
from plafond.inference.evaluate import evaluate_rulebook
from plafond.rulebook import freeze, load_directory, read_directory
from plafond.vocabulary import Vocabulary
from strategies import Seeded, case, rulebook

TODAY = date(2026, 6, 1)

FILES = {
    "rulebook.yaml": """
        version: 2026.1.0
        title: A small rulebook about an elbow
        covers: an elbow that hurts
        scope: {finding: too-young, statement: Adults only.}
        notice: Made up for tests; nothing in it is true.
        complaints: []
    """,
    "vocabulary/elbow.yaml": """
        group: elbow
        title: An elbow
        findings:
          elbow-pain:
            title: Pain
            kind: presence
            side: sided
            question: Does it hurt?
            phrases: [sore elbow]
            letter: {few_words: made up}
          elbow-locking:
            title: Locking
            kind: presence
            side: sided
            question: Does it lock?
            phrases: [locks, catches]
            letter: {few_words: made up}
            codes: {icd-10-cm: [M25.521], loinc: [4548-4]}
          elbow-wear:
            title: Wear on the film
            kind: choice
            values: [none, some, severe]
            side: sided
            question: How worn is it?
            letter: {few_words: made up}
          pain-duration:
            title: How long it has hurt
            kind: quantity
            unit: wk
            range: [0, 5000]
            side: sided
            question: For how long has it hurt?
            letter: {few_words: made up}
          hot-elbow:
            title: Hot joint
            kind: presence
            side: sided
            question: Is the joint hot?
            phrases: [hot elbow, warm elbow, elbow is hot]
    """,
    "vocabulary/person.yaml": """
        group: person
        title: The person
        findings:
          age:
            title: Age
            kind: quantity
            unit: a
            range: [0, 120]
            side: person
            question: How old?
            letter: {few_words: made up}
          too-young: {title: Too young, kind: presence, side: person, derived: true}
    """,
    "letters/denial.yaml": """
        group: denial
        title: Words that deny
        does: negation
        entries:
          unseen: {phrases: [not seen, absent], reach: before}
    """,
    "letters/parts.yaml": """
        group: parts
        title: Parts of the body
        does: part
        entries:
          hand: {phrases: [hand]}
    """,
    "options/elbow-cleaning.yaml": """
        id: elbow-cleaning
        title: Cleaning an elbow
        summary: Water in, water out.
        region: elsewhere
        traits: [arthroscopic, elective]
        raised_by: [elbow-locking]
        alternatives:
          - {option: elbow-rest}
        approach:
          position: [{says: on the side, basis: common-practice}]
          portals: [{says: two, cites: smith-1999, confidence: memory}]
          scope: [{says: the usual, basis: common-practice}]
          at_risk: [{says: the skin, basis: common-practice}]
          aftercare: [{says: a plaster, basis: common-practice}]
        outcomes: [{says: nine of ten do well, cites: smith-1999, confidence: memory}]
        codes: {icd-10-cm: [M24.021], icd-10-pcs: [0RBL4ZZ]}
    """,
    "options/elbow-rest.yaml": """
        id: elbow-rest
        title: Rest
        summary: Sitting down.
        region: elsewhere
        traits: []
        raised_by: [elbow-pain]
    """,
    "sources/all.json": """
        [
          {"id": "smith-1999", "type": "book", "title": "On elbows"},
          {"id": "jones-2001", "type": "book", "title": "On ages"}
        ]
    """,
    "rules/elbow/cleaning.yaml": """
        id: elbow.cleaning
        version: 1
        status: active
        kind: indication
        title: Cleaning a worn elbow that locks
        statement: >-
          Cleaning is supported for a worn elbow that has hurt for at least six weeks, or locks.
        when:
          all:
            - any:
                - pain-duration: {at_least: 6 wk, cites: smith-1999}
                - elbow-locking: {is: present}
            - elbow-wear: {is_one_of: [some, severe]}
        then: {supports: elbow-cleaning}
        grade: {recommendation: C, scheme: wright-2005, direction: for}
        sources:
          - {id: smith-1999, supports: everything}
        confidence: secondary
        rationale: Made up.
        review: {last: 2026-01-01, next: 2027-01-01}
        cases:
          - {name: six weeks, given: {pain-duration: 6 wk, elbow-wear: some}, expect: met}
          - name: locks
            given: {pain-duration: 0 wk, elbow-locking: present, elbow-wear: severe}
            expect: met
          - name: a day short
            given: {pain-duration: 41 d, elbow-locking: absent, elbow-wear: some}
            expect: not-met
          - {name: not worn, given: {pain-duration: 6 wk, elbow-wear: none}, expect: not-met}
          - {name: for how long, given: {elbow-locking: absent, elbow-wear: some}, expect: unknown}
    """,
    "rules/elbow/rest.yaml": """
        id: elbow.rest
        version: 1
        status: active
        kind: indication
        title: Resting an elbow
        statement: Rest is supported where an elbow hurts.
        when:
          elbow-pain: {is: present}
        then: {supports: elbow-rest}
        grade: {recommendation: I, scheme: wright-2005, direction: none}
        sources:
          - {id: smith-1999, supports: everything}
        confidence: judgement
        rationale: Made up.
        review: {last: 2026-01-01, next: 2027-01-01}
        cases:
          - {name: it hurts, given: {elbow-pain: present}, expect: met}
          - {name: it does not, given: {elbow-pain: absent}, expect: not-met}
    """,
    "rules/elbow/young.yaml": """
        id: elbow.young
        version: 1
        status: active
        kind: derivation
        title: Too young
        statement: Nobody under 18 is spoken of.
        parameters:
          adult: {value: 18 a, cites: jones-2001, confidence: verified}
        when:
          age: {below: {parameter: adult}}
        then: {concludes: too-young}
        sources:
          - {id: jones-2001, supports: the age}
        confidence: verified
        rationale: Made up.
        review: {last: 2026-01-01, next: 2027-01-01}
        cases:
          - {name: a child, given: {age: 17 a}, expect: met}
          - {name: exactly grown, given: {age: 18 a}, expect: not-met}
          - {name: no age, given: {}, expect: unknown}
    """,
    "rules/elbow/hot.yaml": """
        id: elbow.hot
        version: 1
        status: active
        kind: red-flag
        title: A hot elbow
        statement: A hot elbow is an emergency.
        when:
          hot-elbow: {is: present}
        then: {urgency: immediate, action: Send the patient in., holds: {traits: [elective]}}
        raised_by: [hot-elbow]
        screen: hot-elbow
        sources:
          - {id: smith-1999, supports: everything}
        confidence: secondary
        rationale: Made up.
        review: {last: 2026-01-01, next: 2027-01-01}
        cases:
          - {name: hot, given: {hot-elbow: present}, expect: met}
          - {name: cool, given: {hot-elbow: absent}, expect: not-met}
    """,
    "rules/elbow/child.yaml": """
        id: elbow.child
        version: 1
        status: active
        kind: contraindication
        title: No cleaning in a child
        statement: A child's elbow is not cleaned.
        when:
          too-young: {is: present}
        then: {forbids: {traits: [elective]}, strength: absolute}
        sources:
          - {id: smith-1999, supports: everything}
        confidence: secondary
        rationale: Made up.
        review: {last: 2026-01-01, next: 2027-01-01}
        cases:
          - {name: a child, given: {age: 9 a}, expect: met}
          - {name: grown, given: {age: 40 a}, expect: not-met}
    """,
}

CLEANING, YOUNG, HOT, CHILD = (
    f"rules/elbow/{name}.yaml" for name in ("cleaning", "young", "hot", "child")
)
VOCABULARY, OPTION = "vocabulary/elbow.yaml", "options/elbow-cleaning.yaml"


@pytest.fixture
def folder(tmp_path):
    for name, text in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dedent(text).lstrip())
    return tmp_path


def change(folder, file, old, new):
    path = folder / file
    text = path.read_text()
    assert text.count(old) == 1, f"{file} has {text.count(old)} times {old!r}"
    path.write_text(text.replace(old, new))


def said_of(folder, **how):
    return [str(issue) for issue in verify(folder, TODAY, **how)]


def test_a_rulebook_with_nothing_wrong_is_passed_in_silence(folder):
    assert said_of(folder, thorough=True) == []


def at(folder, file, snippet):
    """The file and the first line that has a snippet, as an issue names them."""
    lines = (folder / file).read_text().splitlines()
    number = next(number for number, line in enumerate(lines, 1) if snippet in line)
    return f"{file}:{number}"


# -- one fault, one line ------------------------------------------------------------------

NOT_WORN = "  - {name: not worn, given: {pain-duration: 6 wk, elbow-wear: none}, expect: not-met}\n"
SAME_AGAIN = dedent(FILES[CHILD]).lstrip()
FAULTS = [
    (
        "a case that comes out otherwise",
        CLEANING, "elbow-wear: none}, expect: not-met", "elbow-wear: some}, expect: not-met",
        CLEANING, "name: not worn",
        "error: the case 'not worn' gives met, not not-met",
    ),
    (
        "a number without a source",
        CLEANING, "{at_least: 6 wk, cites: smith-1999}", "{at_least: 6 wk}",
        CLEANING, "pain-duration: {at_least",
        "error: pain-duration 6 wk has no source, its rule is secondary"
        " -- cite one, or lower the rule's confidence",
    ),
    (
        "a parameter without a source",
        YOUNG, "value: 18 a, cites: jones-2001,", "value: 18 a,",
        YOUNG, "age: {below",
        "error: age 18 a has no source, its rule is verified",
    ),
    (
        "a parameter on weaker ground than its rule",
        YOUNG, "cites: jones-2001, confidence: verified", "cites: jones-2001, confidence: memory",
        YOUNG, "adult: {value",
        "warning: adult is called memory, its rule verified",
    ),
    (
        "no case just beside the limit",
        CLEANING, "pain-duration: 41 d", "pain-duration: 34 d",
        CLEANING, "pain-duration: {at_least",
        "warning: no case has pain-duration just below 6 wk, as 5 wk is -- add a",
    ),
    (
        "no case that leaves it open",
        YOUNG, "{name: no age, given: {}, expect: unknown}",
        "{name: old, given: {age: 80 a}, expect: not-met}",
        YOUNG, "age: {below",
        "warning: no case leaves age unrecorded",
    ),
    (
        "the limit itself not shown",
        YOUNG, "given: {age: 18 a}", "given: {age: 18.5 a}",
        YOUNG, "age: {below",
        "warning: no case has age exactly at 18 a",
    ),
    (
        "a clause on which nothing hangs",
        CLEANING, NOT_WORN, "",
        CLEANING, "elbow-wear: {is_one_of",
        "warning: no case hangs on `elbow-wear: some or severe` being not-met"
        " -- add a case like 'six weeks' with elbow-wear none",
    ),
    (
        "a clause on which nothing hangs when it is met",
        CLEANING, "pain-duration: 0 wk", "pain-duration: 8 wk",
        CLEANING, "elbow-locking: {is: present}",
        "warning: no case hangs on `elbow-locking: present` being met",
    ),
    (
        "a rule that can never be met",
        CHILD, "when:\n  too-young: {is: present}",
        "when:\n  all:\n    - too-young: {is: present}\n    - too-young: {is: absent}",
        CHILD, "when:",
        "error: this rule can never be met",
    ),
    (
        "a rule that can never fail",
        CHILD, "when:\n  too-young: {is: present}",
        "when:\n  any:\n    - too-young: {is: present}\n    - too-young: {is: absent}",
        CHILD, "when:",
        "warning: this rule can never fail",
    ),
    (
        "a range nothing lies in",
        CLEANING, "    - elbow-wear: {is_one_of: [some, severe]}",
        "    - elbow-wear: {is_one_of: [some, severe]}\n    - not:\n        all:\n"
        "          - pain-duration: {above: 9 wk, cites: smith-1999}\n"
        "          - pain-duration: {below: 9 wk, cites: smith-1999}",
        CLEANING, "not:",
        "warning: the part on pain-duration can never fail -- take it out",
    ),
    (
        "a part another part implies",
        CLEANING, "        - elbow-locking: {is: present}",
        "        - elbow-locking: {is: present}\n"
        "        - pain-duration: {at_least: 8 wk, cites: smith-1999}",
        CLEANING, "at_least: 8 wk",
        "warning: the part on pain-duration changes nothing beside the others",
    ),
    (
        "a number only the sentence has",
        CLEANING, "at least six weeks", "at least nine weeks",
        CLEANING, "statement:",
        "warning: the statement says nine weeks, the condition does not",
    ),
    (
        "a number only the condition has",
        CLEANING, "for at least six weeks, or locks", "for long, or locks",
        CLEANING, "statement:",
        "note: the statement does not say 6 wk",
    ),
    (
        "a review that is due",
        HOT, "next: 2027-01-01", "next: 2026-05-31",
        HOT, "review:",
        "warning: its review was due on 2026-05-31 -- review it, then move the date",
    ),
    (
        "a grave rule on weak ground",
        HOT, "confidence: secondary", "confidence: memory",
        HOT, "confidence:",
        "note: a grave rule rests on memory",
    ),
    (
        "a red flag nobody can be asked about",
        HOT, "screen: hot-elbow", "screen: too-young",
        HOT, "screen:",
        "error: too-young has no question, so nobody can be asked about this red flag",
    ),
    (
        "a limit outside what is plausible",
        YOUNG, "value: 18 a", "value: 180 a",
        YOUNG, "when:",
        "error: '180 a' is not plausible for age",
    ),
    (
        "a limit in a wrong unit",
        YOUNG, "value: 18 a", "value: 18 kg",
        YOUNG, "when:",
        "error: kg is a",
    ),
    (
        "a finding nothing uses",
        VOCABULARY, "  pain-duration:\n",
        "  odd: {title: Odd, kind: presence, side: sided, question: Odd?}\n  pain-duration:\n",
        VOCABULARY, "odd:",
        "warning: nothing uses the finding odd",
    ),
    (
        "a source nothing cites",
        "sources/all.json", '"title": "On ages"}',
        '"title": "On ages"},\n  {"id": "wu-2005", "type": "book", "title": "Idle"}',
        "sources/all.json", "wu-2005",
        "warning: nothing cites the source wu-2005",
    ),
    (
        "a phrase two findings have",
        VOCABULARY, "phrases: [locks, catches]", "phrases: [locks, Sore-elbow]",
        VOCABULARY, "phrases: [sore elbow]",
        "note: elbow-locking has the phrase 'sore elbow' too",
    ),
    (
        "a phrase two findings have at one part of the body",
        VOCABULARY, "phrases: [hot elbow, warm elbow, elbow is hot]",
        "letter: {at: {hand: [hot elbow, sore elbow, locks]}}",
        VOCABULARY, "hot-elbow:",
        "note: elbow-pain has the phrase 'sore elbow' too",
    ),
    (
        "a finding that too few phrases reach",
        VOCABULARY, "phrases: [hot elbow, warm elbow, elbow is hot]",
        "phrases: [hot elbow, Hot-elbow, warm elbow]",
        VOCABULARY, "hot-elbow:",
        "warning: 2 phrasings reach hot-elbow in a letter",
    ),
    (
        "a phrase that only denies",
        VOCABULARY, "phrases: [hot elbow, warm elbow, elbow is hot]",
        "phrases: [hot elbow, warm elbow, not seen]",
        VOCABULARY, "phrases: [hot elbow",
        "error: 'not seen' is what denial.unseen is known by",
    ),
    (
        "a modifier's phrase that stands twice",
        "letters/denial.yaml", "[not seen, absent]", "[not seen, absent, Not-seen]",
        "letters/denial.yaml", "phrases:",
        "note: denial.unseen has 'Not-seen' too",
    ),
    (
        "a code that is none",
        VOCABULARY, "icd-10-cm: [M25.521]", "icd-10-cm: [M25521]",
        VOCABULARY, "codes:",
        "error: 'M25521' is no icd-10-cm code -- write it like M25.371",
    ),
    (
        "a LOINC code that is none",
        VOCABULARY, "loinc: [4548-4]", "loinc: [4548-44]",
        VOCABULARY, "codes:",
        "error: '4548-44' is no loinc code",
    ),
    (
        "an operation's code that is none",
        OPTION, "0RBL4ZZ", "0RBL4Z",
        OPTION, "codes:",
        "error: '0RBL4Z' is no icd-10-pcs code",
    ),
    (
        "an option no rule supports",
        "rules/elbow/rest.yaml", "status: active", "status: draft",
        "options/elbow-rest.yaml", "id:",
        "warning: no rule supports elbow-rest",
    ),
    (
        "an option nothing speaks against",
        CHILD, "forbids: {traits: [elective]}", "forbids: {options: [elbow-rest]}",
        OPTION, "traits:",
        "warning: nothing speaks against elbow-cleaning, by its id or by its traits",
    ),
    (
        "an option without alternatives",
        OPTION, "alternatives:\n  - {option: elbow-rest}\n", "",
        OPTION, "id:",
        "warning: elbow-cleaning names no alternative",
    ),
    (
        "an option without outcomes",
        OPTION, "outcomes: [{says: nine of ten do well, cites: smith-1999, confidence: memory}]\n",
        "",
        OPTION, "id:",
        "warning: elbow-cleaning gives no outcomes",
    ),
]  # fmt: skip


@pytest.mark.parametrize("fault", [one[1:] for one in FAULTS], ids=[one[0] for one in FAULTS])
def test_a_fault_is_said_at_its_place(folder, fault):
    file, old, new, where, snippet, said = fault
    change(folder, file, old, new)
    expected = f"{at(folder, where, snippet)}: {said}"
    found = said_of(folder)
    assert any(line.startswith(expected) for line in found), f"{expected}\n" + "\n".join(found)


def test_a_review_is_not_overdue_on_its_day(folder):
    change(folder, HOT, "next: 2027-01-01", f"next: {TODAY}")
    assert said_of(folder) == []


def test_a_caution_is_no_contraindication(folder):
    change(folder, CHILD, "kind: contraindication", "kind: caution")
    forbids = "forbids: {traits: [elective]}, strength: absolute"
    change(folder, CHILD, forbids, "cautions: {traits: [elective]}, advice: Think twice.")
    assert any("nothing speaks against elbow-cleaning" in line for line in said_of(folder))


def test_the_finding_that_sets_the_scope_is_used_even_where_no_rule_tests_it(folder):
    change(folder, CHILD, "status: active", "status: draft")
    assert not any("nothing uses" in line for line in said_of(folder))


def test_a_clause_that_cannot_decide_is_no_missing_case(folder):
    """Above 8 weeks the limit of 6 has already decided; below 6 the one of 8 could."""
    locking = "        - elbow-locking: {is: present}"
    second = "        - pain-duration: {at_least: 8 wk, cites: smith-1999}"
    change(folder, CLEANING, locking, f"{locking}\n{second}")
    change(folder, CLEANING, "pain-duration: 41 d", "pain-duration: 50 d")
    change(
        folder,
        CLEANING,
        "elbow-wear: some}\n    expect: not-met",
        "elbow-wear: some}\n    expect: met",
    )
    found = said_of(folder)
    assert any("hangs on `pain-duration: at least 8 wk` being not-met" in one for one in found)
    assert not any("hangs on `pain-duration: at least 8 wk` being met" in one for one in found)


def test_a_part_inside_a_dead_part_is_not_told_again(folder):
    wear = "    - elbow-wear: {is_one_of: [some, severe]}"
    nine = "pain-duration: {%s: 9 wk, cites: smith-1999}"
    inner = f"all: [{nine % 'above'}, {nine % 'below'}]"
    change(folder, CLEANING, wear, f"{wear}\n    - not: {{{inner}}}")
    dead = [line for line in said_of(folder) if "can never" in line or "changes nothing" in line]
    assert len(dead) == 1


def test_one_thing_missing_is_told_once(folder):
    change(folder, CLEANING, "{at_least: 6 wk,", "{between: [6 wk, 60 wk],")
    change(
        folder,
        CLEANING,
        "elbow-wear: some}, expect: unknown",
        "pain-duration: 1 wk}, expect: unknown",
    )
    assert sum("leaves pain-duration unrecorded" in line for line in said_of(folder)) == 1


def test_a_file_that_is_read_with_an_error_stops_the_rest(folder):
    change(folder, HOT, "kind: red-flag\n", "kind: red-flag\nkind: red-flag\n")
    change(folder, CLEANING, "{at_least: 6 wk, cites: smith-1999}", "{at_least: 6 wk}")
    (only,) = said_of(folder)
    assert "the key 'kind' stands twice" in only


def test_where_a_derived_finding_would_show_it_the_hint_names_it(folder):
    """No one or two recorded findings make this derivation fail; that it fails is enough to say."""
    path = folder / YOUNG
    path.write_text(
        path.read_text()
        .replace(
            "  age: {below: {parameter: adult}}",
            "  any:\n    - age: {below: {parameter: adult}}"
            "\n    - elbow-pain: {is: present}\n    - hot-elbow: {is: present}",
        )
        .replace(
            "{name: exactly grown, given: {age: 18 a}",
            "{name: exactly grown, given: {age: 18 a, elbow-pain: absent, hot-elbow: absent}",
        )
    )
    grown = "  - {name: grown, given: {age: 40 a}, expect: not-met}"
    change(folder, CHILD, grown, "  - {name: nothing said, given: {}, expect: unknown}")
    (only,) = [line for line in said_of(folder) if line.startswith(CHILD) and "hangs" in line]
    assert only.endswith("being not-met -- add a case like 'a child' with too-young absent")


def test_errors_stand_before_warnings_and_warnings_before_notes(folder):
    change(folder, HOT, "confidence: secondary", "confidence: memory")
    change(folder, HOT, "next: 2027-01-01", "next: 2026-05-31")
    change(folder, CLEANING, "{at_least: 6 wk, cites: smith-1999}", "{at_least: 6 wk}")
    assert [issue.severity for issue in verify(folder, TODAY)] == ["error", "warning", "note"]


def test_nothing_is_said_of_rules_while_the_files_do_not_load(folder):
    change(folder, CLEANING, "elbow-wear: none}, expect: not-met", "elbow-wear: no}, expect: met")
    (only,) = said_of(folder)
    assert only.startswith(
        f"{at(folder, CLEANING, 'not worn')}: error: 'no' is not an answer to elbow-wear"
    )


# -- rules together -----------------------------------------------------------------------


def add(folder, name, text):
    (folder / f"rules/elbow/{name}.yaml").write_text(text.replace("elbow.child", f"elbow.{name}"))


def test_a_rule_that_means_what_another_means_is_an_error(folder):
    reworded = SAME_AGAIN.replace("No cleaning in a child", "Children are left alone")
    add(folder, "double", reworded)
    assert said_of(folder) == [
        "rules/elbow/double.yaml:1: error: means exactly what elbow.child means -- keep one of them"
    ]


def test_two_rules_with_one_condition_about_one_option_are_told(folder):
    add(folder, "double", SAME_AGAIN.replace("strength: absolute", "strength: relative"))
    assert said_of(folder) == [
        "rules/elbow/double.yaml:8: warning: has the condition of elbow.child and speaks of the"
        " same -- join them, or tell them apart"
    ]


def test_two_rules_with_one_condition_about_different_options_are_left_alone(folder):
    add(folder, "double", SAME_AGAIN.replace("{traits: [elective]}", "{options: [elbow-rest]}"))
    assert said_of(folder) == []


def test_an_indication_that_is_always_forbidden_is_told(folder):
    wear = "    - elbow-wear:"
    change(folder, CLEANING, wear, "    - age: {below: 12 a, cites: jones-2001}\n" + wear)
    expected = f"{at(folder, CLEANING, 'when:')}: warning: supports elbow-cleaning only where"
    assert any(line.startswith(f"{expected} elbow.child") for line in said_of(folder))
    change(folder, CLEANING, "age: {below: 12 a", "age: {below: 30 a")
    assert not any("only where" in line for line in said_of(folder))


def test_a_meaning_that_changed_without_its_version_is_an_error(folder):
    _, payload = freeze(folder)
    (folder / "releases").mkdir()
    (folder / "releases" / "2025.1.0.json").write_bytes(
        payload.replace(b'"version":"2026.1.0"', b'"version":"2025.1.0"')
    )
    assert said_of(folder) == []
    change(folder, CHILD, "strength: absolute", "strength: relative")
    assert said_of(folder) == [
        f"{CHILD}:2: error: its meaning changed since 2025.1.0, its version did not rise"
        " -- set version: 2"
    ]
    change(folder, CHILD, "version: 1", "version: 2")
    assert said_of(folder) == []


# -- mutants, only when asked for ---------------------------------------------------------

WEAKENED = "  - {name: exactly grown, given: {age: 18 a}, expect: not-met}\n"
SURVIVOR = "age: at most 18 a instead of below 18 a"


def test_a_mutant_no_case_kills_is_a_warning_when_asked_for(folder):
    change(folder, YOUNG, WEAKENED, WEAKENED.replace("18 a", "18.5 a"))
    unasked = said_of(folder)
    asked = said_of(folder, thorough=True)
    assert [line for line in asked if line not in unasked] == [
        f"{YOUNG}:10: warning: no case would notice: {SURVIVOR}"
        " -- add a case like 'a child' with age 18 a"
    ]


def test_a_waiver_silences_the_mutant_it_names_and_no_other(folder):
    change(folder, YOUNG, WEAKENED, WEAKENED.replace("18 a", "18.5 a"))
    path = folder / YOUNG
    text = path.read_text()
    path.write_text(f'{text}waivers:\n  - {{mutant: "{SURVIVOR}", reason: made up}}\n')
    assert not any("would notice" in line for line in said_of(folder, thorough=True))
    path.write_text(f'{text}waivers:\n  - {{mutant: "{SURVIVOR} or so", reason: made up}}\n')
    found = said_of(folder, thorough=True)
    assert sum("would notice" in line for line in found) == 1
    assert any(
        line.startswith(f"{YOUNG}:22: warning: waives what no longer needs it: {SURVIVOR} or so")
        for line in found
    )


def test_a_waiver_without_a_reason_does_not_load(folder):
    path = folder / YOUNG
    path.write_text(f'{path.read_text()}waivers:\n  - {{mutant: "{SURVIVOR}"}}\n')
    (only,) = said_of(folder)
    assert only.startswith(f"{YOUNG}:22: error: 'reason' is a required property")


# -- what the loader already refuses, asked of a rulebook made by hand --------------------


@pytest.fixture
def loaded(folder):
    knowledge, _ = read_directory(folder)
    return load_directory(folder)[0], places_of(knowledge)


def test_a_finding_that_nothing_reaches_is_told(folder, loaded):
    rulebook, places = loaded
    mute = {
        one.id: replace(one, question="", phrases=()) if one.id == "hot-elbow" else one
        for one in rulebook.vocabulary
    }
    silent = replace(rulebook, vocabulary=Vocabulary(mute))
    (only,) = completeness.unreached(silent, places)
    place = at(folder, VOCABULARY, "hot-elbow")
    message = "neither a question nor a phrase reaches hot-elbow -- give it a question"
    assert str(only) == f"{place}: warning: {message}"
    assert list(completeness.unreached(rulebook, places)) == []


def test_a_card_that_lacks_a_part_is_told(loaded):
    rulebook, places = loaded
    option = rulebook.options["elbow-cleaning"]
    card = {part: lines for part, lines in option.approach.items() if part != "portals"}
    torn = replace(
        rulebook, options={**rulebook.options, option.id: replace(option, approach=card)}
    )
    assert [str(issue) for issue in completeness.half_described(torn, places)] == [
        f"{OPTION}:9: warning: the approach card of elbow-cleaning lacks portals"
    ]


# -- cases through the oracle -------------------------------------------------------------


def test_derived_findings_of_a_case_are_worked_out_as_the_whole_rulebook_does():
    choices = Seeded(7)
    for _ in range(60):
        made = rulebook(choices, rules=20, findings=5)
        values = case(choices, [one for one in made.vocabulary if not one.derived], 60)
        truths = evaluate_rulebook(made, values)
        for rule in made.rules.values():
            settled = with_derived(made, rule, values)
            for finding in rule.findings:
                if finding in made.derived_by:
                    truth = truths[made.derived_by[finding].id].value
                    expected = {"met": "present", "not-met": "absent"}.get(truth)
                    assert settled.get(finding) == expected


def test_a_case_on_a_derived_finding_is_shown_with_what_derives_it(loaded):
    rulebook, _ = loaded
    rule = rulebook.rules["elbow.child"]
    assert [case_truth(rulebook, rule, one).value for one in rule.cases] == ["met", "not-met"]


# -- numbers of a sentence ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "numbers_said"),
    [
        ("after six months", [("6", "mo", False)]),
        ("below 100 square millimetres and 5 mm deep", [("100", "mm2", True), ("5", "mm", False)]),
        ("more than 50 000 white cells per cubic millimetre", [("50000", "/mm3", True)]),
        ("a pressure below 30 mmHg", [("30", "mm[Hg]", True)]),
        ("more than 2 degrees Celsius warmer", [("2", "Cel", True)]),
        ("an index of 0.90 or less", [("0.90", "", True)]),
        ("HbA1c is 69 mmol/mol (8.5 %) or more", [("69", "mmol/mol", False), ("8.5", "%", False)]),
        ("at least five of six signs", [("5", "", False), ("6", "", False)]),
        ("against more than four in five", [("4", "", False), ("5", "", False)]),
        ("2 points or more", [("2", "", True)]),
        ("in its 2003 wording", []),
        ("Takakura 3b or 4", [("4", "", False)]),
        ("the fifth metatarsal, someone, often", []),
        ("a six-week gap", [("6", "wk", False)]),
    ],
)
def test_the_numbers_of_a_sentence(text, numbers_said):
    found = [(one.number, one.unit, one.as_limit) for one in numbers.said_in(text)]
    assert found == [(Decimal(number), unit, limit) for number, unit, limit in numbers_said]


@pytest.mark.parametrize(
    ("statement", "agrees"),
    [
        ("after six weeks", True),
        ("after 42 days", True),
        ("after a month and a half, or 1.5 months", True),
        ("after 10 weeks", False),
        ("after two months", False),
        ("after five weeks", False),
        ("after 45 days", False),
        ("after 1.75 months", False),
        ("after six weeks, and again for 12 weeks", False),
        ("after six weeks, with 3 mm of spur", True),
        ("after six weeks, in nine of ten", True),
        ("after six weeks, and at least four of them", False),
        ("after six weeks, in 17 %", True),
    ],
)
def test_a_sentence_agrees_with_its_condition_in_any_unit(folder, statement, agrees):
    said = "a worn elbow that has hurt for at least six weeks, or locks"
    change(folder, CLEANING, said, statement)
    assert any("the statement says" in line for line in said_of(folder)) is not agrees


@pytest.mark.parametrize(
    ("clause", "statement", "agrees"),
    [
        ("below: 6 wk", "up to five weeks", True),
        ("below: 6 wk", "up to seven weeks", False),
        ("above: 6 wk", "from seven weeks", True),
        ("above: 6 wk", "from five weeks", False),
        ("at_least: 6 wk", "more than five weeks", False),
        ("at_most: 6 wk", "less than seven weeks", False),
        ("between: [6 wk, 9 wk]", "from six to nine weeks", True),
        ("between: [6 wk, 9 wk]", "from six to eight weeks", False),
    ],
)
def test_the_last_number_that_counts_may_stand_for_a_limit_that_does_not(
    folder, clause, statement, agrees
):
    change(folder, CLEANING, "{at_least: 6 wk,", f"{{{clause},")
    said = "a worn elbow that has hurt for at least six weeks, or locks"
    change(folder, CLEANING, said, statement)
    assert any("the statement says" in line for line in said_of(folder)) is not agrees


def test_a_number_the_question_gives_needs_no_limit(folder):
    change(folder, CLEANING, "six weeks, or", "six weeks (not four weeks), or")
    assert any("the statement says four weeks" in line for line in said_of(folder))
    change(folder, VOCABULARY, "For how long has it hurt?", "For how long (4 weeks are usual)?")
    assert said_of(folder) == []


@pytest.mark.parametrize(
    ("limit", "statement", "unsaid"),
    [
        ("50 %", "where more than half of it is torn", False),
        ("25 %", "where more than a quarter of it is torn", False),
        ("40 %", "where more than half of it is torn", True),
    ],
)
def test_a_share_may_be_said_in_a_word(folder, limit, statement, unsaid):
    share = (
        "{title: Share, kind: quantity, unit: '%', range: [0, 100], side: sided, question: Much?}"
    )
    change(folder, VOCABULARY, "  hot-elbow:", f"  share: {share}\n  hot-elbow:")
    change(folder, CLEANING, "pain-duration: {at_least: 6 wk,", f'share: {{above: "{limit}",')
    said = "a worn elbow that has hurt for at least six weeks, or locks"
    change(folder, CLEANING, said, statement)
    found = said_of(folder)
    assert any("no case has share exactly at" in line for line in found), "\n".join(found)
    assert any("the statement does not say" in line for line in found) is unsaid
    assert not any("the statement says" in line for line in found)
