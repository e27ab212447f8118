"""Does each rule do what its cases say, and is what ships what the files say?"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from plafond.governance.verify import case_truth, verify
from plafond.rulebook import Rulebook, freeze, load_release, releases, require_directory, schemas
from plafond.settings import default_knowledge

KNOWLEDGE = default_knowledge()
RULEBOOK = require_directory(KNOWLEDGE)
CASES = [(rule, case) for rule in RULEBOOK.rules.values() for case in rule.cases]


@pytest.mark.parametrize(
    ("rule", "case"), CASES, ids=[f"{rule.id}::{case.name}" for rule, case in CASES]
)
def test_a_rule_says_what_its_case_expects(rule, case):
    assert case_truth(RULEBOOK, rule, case).value == case.expect


def test_the_knowledge_has_no_errors_and_no_warnings():
    grave = [issue for issue in verify(KNOWLEDGE, date(2026, 11, 25)) if issue.severity != "note"]
    assert not grave, "\n".join(map(str, grave))


def test_every_rule_shows_all_three_truths_somewhere():
    """A rule that no case leaves unknown has not shown what it does with a silent letter."""
    silent = [
        rule.id
        for rule in RULEBOOK.rules.values()
        if {case.expect for case in rule.cases} != {"met", "not-met", "unknown"}
    ]
    assert not silent


def test_the_newest_release_is_what_the_files_say():
    newest = releases(KNOWLEDGE)[-1]
    _, payload = freeze(KNOWLEDGE)
    assert newest.path.read_bytes() == payload, "run `plafond release build`"


def test_a_release_and_its_files_make_the_same_rules():
    released: Rulebook = load_release(releases(KNOWLEDGE)[-1])
    assert {name: rule.digest for name, rule in released.rules.items()} == {
        name: rule.digest for name, rule in RULEBOOK.rules.items()
    }


@pytest.mark.parametrize("name", sorted(schemas(RULEBOOK.vocabulary)))
def test_an_exported_schema_is_what_the_loader_uses(name):
    exported = KNOWLEDGE / "schema" / f"{name}.schema.json"
    assert json.loads(exported.read_text()) == schemas(RULEBOOK.vocabulary)[name], (
        "run `plafond schema`"
    )


def test_an_absolute_contraindication_or_red_flag_on_weak_ground_says_so():
    grave = [
        rule
        for rule in RULEBOOK.rules.values()
        if rule.kind == "red-flag" or rule.effect.strength == "absolute"
    ]
    assert grave
    weak = [rule for rule in grave if rule.confidence in ("memory", "judgement")]
    for rule in weak:
        assert rule.data["rationale"], rule.id


def test_every_disputed_threshold_is_a_parameter_with_two_positions():
    disputed = [rule for rule in RULEBOOK.rules.values() if "dispute" in rule.data]
    assert len(disputed) >= 10
    for rule in disputed:
        assert len(rule.data["dispute"]["positions"]) >= 2, rule.id


def test_every_arthroscopic_option_has_a_full_approach_card_and_an_indication():
    for option in RULEBOOK.options.values():
        assert RULEBOOK.indications[option.id], option.id
        if option.arthroscopic:
            parts = {"position", "portals", "scope", "at_risk", "aftercare"}
            assert parts <= set(option.approach), option.id


@pytest.mark.parametrize(
    "topic",
    [
        "general.infection.portal-site",
        "general.vascular.critical-ischaemia",
        "general.anaesthesia.asa-four",
        "general.diabetes.hba1c-defer",
        "general.smoking.fusion",
        "general.pain.crps",
        "general.bleeding.blood-thinners",
        "general.skin.portal-site",
        "general.steroid-injection.under-four-weeks",
        "general.non-operative-treatment.none-tried",
    ],
)
def test_the_general_contraindications_of_the_slice_are_there(topic):
    assert topic in RULEBOOK.rules


def test_the_folder_holds_nothing_the_loader_does_not_read():
    known = {"README.md", "rulebook.yaml"}
    folders = {"vocabulary", "letters", "options", "sources", "rules", "releases", "schema"}
    for path in KNOWLEDGE.rglob("*"):
        inside: Path = path.relative_to(KNOWLEDGE)
        assert path.is_dir() or inside.parts[0] in folders or inside.name in known, inside
