"""Can everything a release is made of be looked up, by list, by filter and by its id?"""

from __future__ import annotations

import pytest

KINDS = ("findings", "options", "rules", "sources", "releases")


def key(entry: dict, kind: str) -> str:
    return entry["version"] if kind == "releases" else entry["id"]


def listed(client, kind: str, /, **filters) -> list[dict]:
    response = client.get(f"/v1/{kind}", params=filters)
    assert response.status_code == 200, response.text
    body = response.json()
    assert body["count"] == len(body[kind])
    return body[kind]


@pytest.mark.parametrize("kind", KINDS)
def test_everything_in_a_list_can_be_looked_up_by_its_id(releases_service, kind):
    entries = listed(releases_service, kind)
    assert entries
    for entry in entries:
        response = releases_service.get(f"/v1/{kind}/{key(entry, kind)}")
        assert response.status_code == 200
        assert key(response.json(), kind) == key(entry, kind)


@pytest.mark.parametrize("kind", KINDS)
def test_what_the_caller_has_is_not_sent_again(releases_service, kind):
    first = releases_service.get(f"/v1/{kind}")
    one = releases_service.get(f"/v1/{kind}/{key(first.json()[kind][0], kind)}")
    for response in (first, one):
        known = {"if-none-match": response.headers["etag"]}
        again = releases_service.get(str(response.url), headers=known)
        assert (again.status_code, again.content) == (304, b"")
    assert first.headers["etag"] != one.headers["etag"]


@pytest.mark.parametrize("kind", KINDS[:4])
def test_a_list_is_that_of_the_release_that_is_named(releases_service, kind):
    served = releases_service.get(f"/v1/{kind}").json()
    other = releases_service.get(f"/v1/{kind}", params={"release": "2099.1.0"}).json()
    assert other["release"]["version"] == "2099.1.0"
    assert other["release"]["digest"] != served["release"]["digest"]


def test_a_rule_of_another_release_is_shown_as_it_stands_there(releases_service):
    path = "/v1/rules/ankle.lateral-ligament.arthroscopic-repair.indicated"
    here = releases_service.get(path).json()
    there = releases_service.get(path, params={"release": "2099.1.0"}).json()
    assert there["when"] == {"giving-way": {"is": "present"}}
    assert there["in_words"] == ["Giving way: present"]
    assert there["digest"] != here["digest"]


@pytest.mark.parametrize(
    ("kind", "name", "near"),
    [
        ("findings", "givingway", "giving-way"),
        ("options", "ankle-ligament-repair", "ankle-lateral-ligament-repair"),
        ("rules", "general.smoking", "general.smoking.fusion"),
        ("sources", "choi-2090", "choi-2009"),
        ("releases", "2099.1", "2099.1.0"),
    ],
)
def test_a_name_nobody_knows_brings_the_nearest_that_are_known(releases_service, kind, name, near):
    response = releases_service.get(f"/v1/{kind}/{name}")
    assert response.status_code == 404
    assert response.headers["content-type"] == "application/problem+json"
    assert near in response.json()["nearest"]


@pytest.mark.parametrize(
    ("kind", "filters", "holds"),
    [
        ("findings", {"kind": "count"}, lambda one: one["kind"] == "count"),
        ("findings", {"group": "talus"}, lambda one: one["group"] == "talus"),
        ("options", {"trait": "fusion"}, lambda one: "fusion" in one["traits"]),
        ("rules", {"kind": "red-flag"}, lambda one: one["kind"] == "red-flag"),
    ],
)
def test_a_filter_gives_all_that_it_says_and_nothing_else(releases_service, kind, filters, holds):
    everything = listed(releases_service, kind)
    chosen = listed(releases_service, kind, **filters)
    assert chosen == [one for one in everything if holds(one)]
    assert 0 < len(chosen) < len(everything)


def test_rules_are_found_by_the_option_they_speak_of(releases_service, rulebook):
    name = "ankle-arthroscopic-fusion"
    chosen = {one["id"] for one in listed(releases_service, "rules", option=name)}
    speaking = (rulebook.indications, rulebook.against, rulebook.holding)
    assert chosen == {rule.id for rules_of in speaking for rule in rules_of[name]}
    assert "general.smoking.fusion" in chosen
    card = releases_service.get(f"/v1/options/{name}").json()
    assert set(card["rules"]) == chosen


def test_rules_are_found_by_the_finding_they_test(releases_service, rulebook):
    chosen = {one["id"] for one in listed(releases_service, "rules", finding="giving-way")}
    assert chosen == {rule.id for rule in rulebook.rules.values() if "giving-way" in rule.findings}
    assert chosen


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/v1/findings?group=nothing", 404),
        ("/v1/rules?option=nothing", 404),
        ("/v1/rules?finding=nothing", 404),
        ("/v1/rules?release=nothing", 404),
        ("/v1/findings?kind=nothing", 400),
        ("/v1/findings?kinds=count", 400),
        ("/v1/options?trait=large", 400),
        ("/v1/releases?release=2099.1.0", 400),
        ("/v1/rules?release=" + "x" * 81, 400),
        ("/v1/findings/", 404),
    ],
)
def test_a_filter_that_makes_no_sense_is_refused_not_ignored(releases_service, path, status):
    response = releases_service.get(path)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"


def test_a_finding_says_how_it_is_written(releases_service):
    tilt = releases_service.get("/v1/findings/talar-tilt-angle").json()
    assert (tilt["kind"], tilt["units"], tilt["allowed"]) == (
        "quantity",
        ["deg"],
        "from 0 to 45 deg",
    )
    assert tilt["sided"]
    assert tilt["question"].endswith("?")
    area = releases_service.get("/v1/findings/lesion-area").json()
    assert area["computed"]["formula"] == "ellipse-area"


def test_a_release_says_what_it_is_and_how_much_is_in_it(releases_service, rulebook):
    card = releases_service.get(f"/v1/releases/{rulebook.version}").json()
    assert card["in_service"] is True
    assert card["signed"] is False
    assert card["rules"] == len(rulebook.rules)
    assert card["notice"] == rulebook.notice
    assert releases_service.get("/v1/releases/2099.1.0").json()["in_service"] is False
