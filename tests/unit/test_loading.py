"""Are knowledge files read strictly, and is everything wrong with them said at once, with its line?

Each fault is made in a copy of the small rulebook under `tests/data/knowledge`.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from plafond.errors import KnowledgeError
from plafond.rulebook import Is, load_directory, read_directory, require_directory
from plafond.rulebook.strict_yaml import escape, read_yaml

SMALL = Path(__file__).parents[1] / "data" / "knowledge"

HARD, WASHING = "rules/knee/hard.yaml", "rules/knee/washing.yaml"
KNEE, PERSON = "vocabulary/knee.yaml", "vocabulary/person.yaml"
OPTION, SOURCES, HEAD = "options/knee-washing.yaml", "sources/all.json", "rulebook.yaml"


@pytest.fixture
def folder(tmp_path):
    copy = tmp_path / "knowledge"
    shutil.copytree(SMALL, copy)
    return copy


def change(folder, file, old, new):
    path = folder / file
    text = path.read_text()
    assert text.count(old) == 1, f"{file} has {text.count(old)} times {old!r}"
    path.write_text(text.replace(old, new))


def issues_of(folder):
    rulebook, issues = load_directory(folder)
    assert (rulebook is None) == any(issue.severity == "error" for issue in issues)
    return [str(issue) for issue in issues]


def test_the_small_rulebook_loads_without_an_issue():
    rulebook, issues = load_directory(SMALL)
    assert issues == []
    assert list(rulebook.rules) == ["knee.hard", "knee.washing", "knee.young"], "drafts stay out"
    assert list(rulebook.options) == ["knee-rest", "knee-washing"]
    assert {name: rule.id for name, rule in rulebook.derived_by.items()} == {
        "hard-knee": "knee.hard",
        "too-young": "knee.young",
    }
    assert rulebook.indications["knee-washing"][0].version == 3
    assert rulebook.options["knee-washing"].raised_by == (
        Is("knee-swelling", "present"),
        Is("knee-wear", "severe"),
    )
    assert rulebook.rules["knee.washing"].statement.endswith("for long.")


FAULTS = [
    # the language of the files
    (
        "a key stands twice",
        HARD,
        "kind: derivation",
        "kind: derivation\nkind: derivation",
        "rules/knee/hard.yaml:5: error: the key 'kind' stands twice -- keep one of them",
    ),
    (
        "an anchor",
        HARD,
        "title: A hard knee",
        "title: &a A hard knee\nrationale: *a",
        "anchors and aliases are not used here",
    ),
    (
        "an empty value",
        HARD,
        "rationale: Made up.",
        "rationale:",
        "rules/knee/hard.yaml:15: error: an empty value -- leave the key out",
    ),
    (
        "yes for true",
        KNEE,
        "derived: true",
        "derived: yes",
        "knee.yaml:6: error: True was expected",
    ),
    (
        "a number for text",
        HARD,
        "rationale: Made up.",
        "rationale: 7",
        "hard.yaml:15: error: 7 is not of type 'string'",
    ),
    (
        "a quantity that is no text",
        HARD,
        "{at_least: 20 deg, cites",
        "{at_least: 20, cites",
        "hard.yaml:9: error: 20 is not of type 'string'",
    ),
    ("no YAML at all", HARD, "when:", "when: [", "rules/knee/hard.yaml:9: error: not YAML"),
    (
        "a JSON key twice",
        SOURCES,
        '"title": "On knees"',
        '"title": "On knees", "title": "x y z"',
        "sources/all.json:2: error: the key 'title' stands twice",
    ),
    # how letters are worded
    (
        "a wording's value that is none",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {says: {lost: [gone]}}",
        "'lost' is no value of knee-wear",
    ),
    (
        "a wording's answer that is none",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {results: {bad: [poor]}}",
        "'bad' is no value of knee-wear",
    ),
    (
        "a part of the body that is none",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {at: {elbow: [worn]}}",
        "no part of the body goes by 'elbow'",
    ),
    (
        "lengths of a finding that is none",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {dimensions: [knee-length]}",
        "no finding goes by 'knee-length'",
    ),
    (
        "lengths that are no quantity",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {dimensions: [knee-pain]}",
        "knee-pain is no quantity",
    ),
    (
        "a past that is derived",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {past: hard-knee}",
        "hard-knee is derived, so no letter can state it",
    ),
    (
        "a word that a wording does not know",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {nearby: [knee]}",
        "'nearby' is not known here -- did you mean near",
    ),
    (
        "a wording that says nothing",
        KNEE,
        "question: How worn is the knee?",
        "question: How worn is the knee?\n    letter: {}",
        "should be non-empty",
    ),
    (
        "a modifier that does what none does",
        "letters/denial.yaml",
        "does: negation",
        "does: denial",
        "letters/denial.yaml:3: error: 'denial' is not known here",
    ),
    (
        "a side that is none",
        "letters/denial.yaml",
        "does: negation",
        "does: side",
        "'says' is a required property",
    ),
    # ids
    (
        "an unknown finding",
        HARD,
        "knee-wear: {is_one_of",
        "kne-wear: {is_one_of",
        "hard.yaml:10: error: 'kne-wear' is not known here -- did you mean knee-wear",
    ),
    (
        "an unknown source",
        HARD,
        "cites: smith-1999",
        "cites: smith-1998",
        "hard.yaml:9: error: no source goes by 'smith-1998' -- did you mean smith-1999",
    ),
    (
        "an unknown source of a rule",
        HARD,
        "{id: smith-1999, supports: the",
        "{id: s-1, supports: the",
        "hard.yaml:13: error: no source goes by 's-1' -- add it to sources/",
    ),
    (
        "an unknown option",
        WASHING,
        "supports: knee-washing",
        "supports: knee-wash",
        "washing.yaml:15: error: no option goes by 'knee-wash'",
    ),
    (
        "an unknown alternative",
        OPTION,
        "{option: knee-rest}",
        "{option: knee-nap}",
        "knee-washing.yaml:10: error: no option goes by 'knee-nap'",
    ),
    (
        "an unknown parameter",
        "rules/knee/young.yaml",
        "{parameter: adult}",
        "{parameter: old}",
        "young.yaml:9: error: no parameter goes by 'old' -- add it to `parameters`",
    ),
    (
        "a parameter nobody uses",
        "rules/knee/young.yaml",
        "{parameter: adult}",
        "17 a",
        "young.yaml:8: error: the parameter 'adult' is never used",
    ),
    (
        "an unknown finding in a case",
        WASHING,
        "{pain-duration: 41 d}",
        "{pain-duratio: 41 d}",
        "washing.yaml:27: error: no finding goes by 'pain-duratio'; did you mean pain-duration",
    ),
    (
        "an unknown scope",
        HEAD,
        "{finding: too-young",
        "{finding: knee-pain",
        "rulebook.yaml:4: error: knee-pain is not a derived finding",
    ),
    (
        "an id that is not the path",
        HARD,
        "id: knee.hard",
        "id: knee.harder",
        "hard.yaml:1: error: the id belongs to rules/knee/harder.yaml -- move the file",
    ),
    (
        "an option that is not its path",
        OPTION,
        "id: knee-washing",
        "id: knee-wash",
        "knee-washing.yaml:1: error: the id belongs to options/knee-wash.yaml",
    ),
    (
        "a key nobody knows",
        HARD,
        "rationale: Made up.",
        "rationale: Made up.\nrational: x y z",
        "hard.yaml:16: error: 'rational' is not known here -- did you mean rationale",
    ),
    # values and units
    (
        "an unknown value",
        HARD,
        "[some, severe]",
        "[some, sever]",
        "hard.yaml:10: error: 'sever' is not known here -- one of: none, some, severe",
    ),
    (
        "a wrong unit",
        WASHING,
        "at_least: 6 wk",
        "at_least: 6 mm",
        "washing.yaml:10: error: '6 mm' does not fit here -- write it like 10 wk",
    ),
    (
        "a limit that is not plausible",
        WASHING,
        "at_least: 6 wk",
        "at_least: 6000 wk",
        "washing.yaml:8: error: '6000 wk' is not plausible for pain-duration",
    ),
    (
        "a count that is no whole number",
        WASHING,
        "at_most: 2}",
        'at_most: "2"}',
        "washing.yaml:14: error: '2' is not of type 'integer'",
    ),
    (
        "a value that does not fit in a case",
        WASHING,
        "{pain-duration: 41 d}",
        "{pain-duration: 41 kg}",
        "washing.yaml:27: error: kg is a unit of mass, not of time",
    ),
    (
        "a derived finding in a case",
        WASHING,
        "{pain-duration: 41 d}",
        "{hard-knee: present}",
        "washing.yaml:27: error: hard-knee is derived; give what derives it",
    ),
    # conditions
    (
        "two words in one clause",
        WASHING,
        "{at_most: 2}",
        "{at_most: 2, above: 0}",
        "washing.yaml:8: error: one clause, one word",
    ),
    (
        "a clause without a word",
        WASHING,
        "{at_most: 2}",
        "{cites: smith-1999}",
        "washing.yaml:8: error: one clause, one word",
    ),
    (
        "limits the wrong way round",
        WASHING,
        "{at_most: 2}",
        "{between: [5, 2]}",
        "washing.yaml:8: error: between 5 and 2 there is nothing",
    ),
    (
        "more than there are",
        WASHING,
        "    - any:\n        - hard",
        "    - at_least: 3\n      of:\n        - hard",
        "at least 3 of 2 parts can never be met",
    ),
    (
        "a group of nothing",
        HARD,
        "  all:\n    - knee-stiffness: {at_least: 20 deg, cites: smith-1999}\n"
        "    - knee-wear: {is_one_of: [some, severe]}",
        "  all: []",
        "hard.yaml:8: error: [] should be non-empty",
    ),
    (
        "two groups in one",
        HARD,
        "  all:\n",
        "  any: [{knee-pain: {is: present}}]\n  all:\n",
        "hard.yaml:7: error:",
    ),
    # what only the whole shows
    (
        "a derivation in a circle",
        HARD,
        "    - knee-wear: {is_one_of: [some, severe]}",
        "    - hard-knee: {is: present}",
        "derivations run in a circle: knee.hard -> knee.hard",
    ),
    (
        "two derivations of one finding",
        HARD,
        "{concludes: hard-knee}",
        "{concludes: too-young}",
        "young.yaml:11: error: knee.hard already concludes too-young",
    ),
    (
        "a derivation of what is recorded",
        HARD,
        "{concludes: hard-knee}",
        "{concludes: knee-pain}",
        "hard.yaml:11: error: knee-pain is not a derived finding of the vocabulary",
    ),
    (
        "a derived finding that nothing derives",
        HARD,
        "status: active",
        "status: draft",
        "vocabulary/knee.yaml:1: error: hard-knee is derived, but no derivation rule concludes it",
    ),
    (
        "computed from what is no quantity",
        KNEE,
        "from: [knee-stiffness]",
        "from: [knee-pain]",
        "stiffness-difference is computed from knee-pain, which is no quantity",
    ),
    # the vocabulary
    (
        "a quantity without a unit",
        KNEE,
        "    unit: wk\n",
        "",
        "knee.yaml:13: error: pain-duration is a quantity and needs unit",
    ),
    (
        "a choice without values",
        KNEE,
        "    values: [none, some, severe]\n",
        "",
        "knee.yaml:7: error: knee-wear is a choice and needs values",
    ),
    (
        "a finding without a question",
        PERSON,
        ", question: How many?",
        "",
        "person.yaml:5: error: operations is a count and needs question",
    ),
    (
        "a range that runs backwards",
        PERSON,
        "range: [0, 9]",
        "range: [9, 0]",
        "person.yaml:5: error: the range runs backwards",
    ),
    (
        "a range of words",
        PERSON,
        "range: [0, 9]",
        "range: [few, many]",
        "person.yaml:5: error: a range is two numbers",
    ),
    (
        "a range of nothing",
        PERSON,
        "range: [0, 9]",
        "range: [NaN, 9]",
        "person.yaml:5: error: a range is two numbers",
    ),
    (
        "a finding in two groups",
        PERSON,
        "  operations:",
        "  knee-pain:",
        "person.yaml:5: error: knee-pain is already in another group",
    ),
    # the rest
    (
        "a kind nobody knows",
        HARD,
        "kind: derivation",
        "kind: deduction",
        "hard.yaml:4: error: 'deduction' is not known here -- one of: indication, contraindication",
    ),
    (
        "an indication without a grade",
        WASHING,
        "grade: {recommendation: C, scheme: wright-2005, direction: for}\n",
        "",
        "washing.yaml:1: error: 'grade' is a required property",
    ),
    (
        "a keyhole option without an approach",
        OPTION,
        "  aftercare: [{says: a plaster, basis: common-practice}]\n",
        "",
        "knee-washing.yaml:11: error: 'aftercare' is a required property",
    ),
    (
        "two cases of one name",
        WASHING,
        "name: too short",
        "name: long and swollen",
        "washing.yaml:23: error: two cases are called 'long and swollen'",
    ),
    (
        "a source twice",
        SOURCES,
        "jones-2001",
        "smith-1999",
        "all.json:3: error: smith-1999 stands twice",
    ),
    ("a date that is none", HARD, "next: 2027-01-01", "next: soon", "hard.yaml:16: error: 'soon'"),
]


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [fault[1:] for fault in FAULTS],
    ids=[fault[0] for fault in FAULTS],
)
def test_a_fault_is_named_with_its_file_and_line(folder, file, old, new, expected):
    change(folder, file, old, new)
    found = issues_of(folder)
    assert any(expected in issue for issue in found), "\n".join(found)


def test_every_fault_is_said_at_once(folder):
    spread = {fault[1]: fault for fault in reversed(FAULTS) if fault[1] != KNEE}
    for _, file, old, new, _ in spread.values():
        change(folder, file, old, new)
    found = issues_of(folder)
    assert len({issue.split(":")[0] for issue in found}) >= 4, found
    assert len(found) >= 6


def test_what_cannot_be_loaded_is_refused_with_every_issue(folder):
    change(folder, HARD, "title: A hard knee", "titel: A hard knee")
    with pytest.raises(KnowledgeError, match="2 errors") as caught:
        require_directory(folder)
    assert {issue.line for issue in caught.value.issues} == {1, 5}
    assert "plafond verify" in str(caught.value)


def test_a_missing_rulebook_and_an_empty_folder_are_said(folder, tmp_path):
    (folder / HEAD).unlink()
    assert any("rulebook.yaml:1: error: cannot be read" in issue for issue in issues_of(folder))
    rulebook, issues = load_directory(tmp_path / "nowhere")
    assert rulebook is None
    assert issues


def test_a_file_that_is_not_utf_8_is_said(folder):
    (folder / HARD).write_bytes(b"id: \xff\xfe")
    assert any("rules/knee/hard.yaml:1: error: cannot be read" in one for one in issues_of(folder))


def test_an_empty_file_is_said(folder):
    (folder / HARD).write_text("# nothing but a remark\n")
    assert "rules/knee/hard.yaml:1: error: the file is empty" in issues_of(folder)


def test_retired_and_draft_rules_are_checked_and_left_out(folder):
    change(folder, "rules/knee/rest.yaml", "status: draft", "status: retired")
    rulebook = require_directory(folder)
    assert "knee.rest" not in rulebook.rules
    change(folder, "rules/knee/rest.yaml", "knee-pain: {is: present}", "knee-pain: {is: mild}")
    assert any("rest.yaml:7: error: 'mild'" in issue for issue in issues_of(folder))


def test_files_are_read_in_an_order_that_does_not_depend_on_the_disk():
    knowledge, issues = read_directory(SMALL)
    assert issues == []
    names = [source.file for source in knowledge.rules]
    assert names == sorted(names)


# -- the YAML that is read -------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "data"),
    [
        ("a: true", {"a": True}),
        ("a: false", {"a": False}),
        ("a: yes", {"a": "yes"}),
        ("a: No", {"a": "No"}),
        ("a: 12", {"a": 12}),
        ("a: -3", {"a": -3}),
        ("a: 012", {"a": "012"}),
        ("a: 1.5", {"a": "1.5"}),
        ("a: 1e3", {"a": "1e3"}),
        ("a: 12 mm", {"a": "12 mm"}),
        ("a: 2026-01-01", {"a": "2026-01-01"}),
        ('a: "12"', {"a": "12"}),
        ('a: "true"', {"a": "true"}),
        ("a: 12345678901", {"a": "12345678901"}),
        ("[1, [2, {b: c}]]", [1, [2, {"b": "c"}]]),
    ],
)
def test_only_plain_things_are_anything_but_text(text, data):
    source, issues = read_yaml("a.yaml", text)
    assert (source.data, issues) == (data, [])


@pytest.mark.parametrize("text", ["a: null", "a: ~", "a:", "- \n- 1"])
def test_an_empty_value_is_an_issue(text):
    _, issues = read_yaml("a.yaml", text)
    assert [issue.message for issue in issues] == ["an empty value"]


def test_a_line_is_known_for_every_pointer_and_for_what_lies_below_it():
    source, _ = read_yaml("a.yaml", "a:\n  - b: 1\n    c/d: 2\n")
    assert source.line("/a/0/b") == 2
    assert source.line(f"/a/0/{escape('c/d')}") == 3
    assert source.line("/a/0/nowhere/deeper") == 2
    assert source.line("") == 1
