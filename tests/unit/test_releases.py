"""Is a release the same bytes whoever makes it, and is it found, thawed or refused rightly?"""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest
import rfc8785

from plafond.errors import KnowledgeError, ReleaseError
from plafond.rulebook import digest_of, find_release, freeze, load_release, releases, thaw

SMALL = Path(__file__).parents[1] / "data" / "knowledge"


@pytest.fixture
def folder(tmp_path):
    copy = tmp_path / "knowledge"
    shutil.copytree(SMALL, copy)
    return copy


def keep(folder, version):
    """Make a release of the files as they are, under another version; return its bytes."""
    head = folder / "rulebook.yaml"
    lines = head.read_text().splitlines()
    head.write_text("\n".join([f"version: {version}", *lines[1:]]))
    _, payload = freeze(folder)
    (folder / "releases").mkdir(exist_ok=True)
    (folder / "releases" / f"{version}.json").write_bytes(payload)
    return payload


def test_a_release_is_canonical_json_and_is_known_by_its_sha_256():
    rulebook, payload = freeze(SMALL)
    assert rfc8785.dumps(json.loads(payload)) == payload
    assert rulebook.digest == "sha256:" + hashlib.sha256(payload).hexdigest() == digest_of(payload)
    assert rulebook.version == "2026.1.0"


def test_a_release_holds_active_rules_only_and_all_they_rest_on():
    data = json.loads(freeze(SMALL)[1])
    assert [rule["id"] for rule in data["rules"]] == ["knee.hard", "knee.washing", "knee.young"]
    assert [option["id"] for option in data["options"]] == ["knee-rest", "knee-washing"]
    assert [source["id"] for source in data["sources"]] == ["jones-2001", "smith-1999"]
    assert [group["group"] for group in data["vocabulary"]] == ["knee", "person"]
    assert [group["group"] for group in data["letters"]] == ["denial", "parts"]


def test_the_words_of_letters_are_thawed_with_a_release_and_do_not_change_a_rule(folder):
    before = freeze(folder)[0]
    path = folder / "letters/denial.yaml"
    path.write_text(path.read_text().replace("without", "lacking"))
    rulebook, payload = freeze(folder)
    assert rulebook.digest != before.digest
    assert "lacking" in thaw(payload, "again").modifiers[0].phrases
    assert {one.id: one.digest for one in rulebook.rules.values()} == {
        one.id: one.digest for one in before.rules.values()
    }


def test_a_release_made_before_letters_were_read_still_thaws(folder):
    data = json.loads(freeze(folder)[1])
    del data["letters"]
    assert thaw(rfc8785.dumps(data), "old").modifiers == ()


def test_remarks_blank_lines_and_the_order_of_keys_do_not_change_a_release(folder):
    before = freeze(folder)[1]
    path = folder / "rules/knee/rest.yaml"
    path.write_text("# a remark\n\n" + path.read_text())
    path = folder / "options/knee-rest.yaml"
    lines = path.read_text().splitlines()
    path.write_text("\n".join(reversed(lines)) + "\n")
    assert freeze(folder)[1] == before


def test_a_draft_does_not_change_a_release_and_an_active_rule_does(folder):
    before = freeze(folder)[1]
    path = folder / "rules/knee/rest.yaml"
    path.write_text(path.read_text().replace("A knee hurts", "Pain"))
    assert freeze(folder)[1] == before
    path.write_text(path.read_text().replace("status: draft", "status: active"))
    assert freeze(folder)[1] != before


def test_what_does_not_load_makes_no_release(folder):
    path = folder / "rules/knee/hard.yaml"
    path.write_text(path.read_text().replace("20 deg", "20 mm"))
    with pytest.raises(KnowledgeError, match=r"hard\.yaml:9"):
        freeze(folder)


def test_a_thawed_release_is_the_rulebook_of_its_files():
    rulebook, payload = freeze(SMALL)
    again = thaw(payload, "again")
    assert again.rules == rulebook.rules
    assert again.digest == rulebook.digest
    assert [one.id for one in again.vocabulary] == [one.id for one in rulebook.vocabulary]


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"not json",
        b"\xff",
        b"null",
        b"[]",
        b"{}",
        b'{"format":"plafond-release"}',
        b'{"format":"plafond-release","options":[],"rulebook":[],"rules":[],"sources":[],"vocabulary":[]}',
        b'{"format":"plafond-release","options":[1],"rulebook":{},"rules":7,"sources":{},"vocabulary":[]}',
        b'{"format":"something-else"}',
        b'{"a":NaN,"format":"plafond-release"}',
        b'{"a":1.5,"a":1.5,"format":"plafond-release"}',
        b'{ "format":"plafond-release"}',
    ],
)
def test_what_is_no_release_is_refused_as_one(payload):
    with pytest.raises(ReleaseError, match=r"^name\.json: "):
        thaw(payload, "name.json")


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: data["rules"].append(3),
        lambda data: data["rules"][0].pop("id"),
        lambda data: data["rules"][0].update(when=None),
        lambda data: data["rulebook"].pop("scope"),
        lambda data: data["vocabulary"].append({"group": "empty"}),
        lambda data: data["options"][0].update(id=7),
        lambda data: data["sources"].append("smith"),
        lambda data: data["rules"].append(data["rules"][0]),
    ],
    ids=[
        "a rule that is a number",
        "a rule without an id",
        "a rule without a condition",
        "no scope",
        "a group without findings",
        "an option with a number for an id",
        "a source that is a word",
        "one rule twice",
    ],
)
def test_a_canonical_release_of_nonsense_is_refused_with_what_is_wrong(damage):
    data = json.loads(freeze(SMALL)[1])
    damage(data)
    with pytest.raises((KnowledgeError, ReleaseError)):
        thaw(rfc8785.dumps(data), "damaged.json")


def test_releases_are_listed_by_version_as_numbers_and_not_as_text(folder):
    for version in ("2026.10.0", "2026.2.0", "2026.2.11"):
        keep(folder, version)
    assert [file.version for file in releases(folder)] == ["2026.2.0", "2026.2.11", "2026.10.0"]


def test_a_release_is_found_by_version_by_digest_or_as_the_newest(folder):
    old, new = (keep(folder, version) for version in ("2026.2.0", "2026.10.0"))
    assert find_release(folder, "").version == "2026.10.0"
    assert find_release(folder, "2026.2.0").digest == digest_of(old)
    assert find_release(folder, digest_of(new)).version == "2026.10.0"
    short = digest_of(old).removeprefix("sha256:")[:8]
    assert find_release(folder, short).version == "2026.2.0"
    assert find_release(folder, f"sha256:{short}").version == "2026.2.0"
    assert load_release(find_release(folder, short)).digest == digest_of(old)


def test_a_release_that_is_not_there_is_named_with_those_that_are(folder):
    payload = keep(folder, "2026.2.0")
    short = digest_of(payload).removeprefix("sha256:")[:7]
    for name in ("2026.3.0", short, "sha256:", "2026"):
        with pytest.raises(ReleaseError, match=r"no release goes by .*expected 2026\.2\.0"):
            find_release(folder, name)


def test_where_there_is_no_release_the_error_says_how_to_make_one(folder):
    with pytest.raises(ReleaseError, match=r"there is no release yet.*plafond release build"):
        find_release(folder, "")
    assert releases(folder / "nowhere") == ()
