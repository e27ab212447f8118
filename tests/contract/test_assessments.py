"""Is an answer given, kept, given again in the same bytes, and compared with other releases?"""

from __future__ import annotations

import hashlib
import json
import logging
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from uuid import UUID

import pytest
import rfc8785

from plafond.settings import Settings

RULE = "ankle.lateral-ligament.arthroscopic-repair.indicated"
REPAIR = "ankle-lateral-ligament-repair"


def digest(body: bytes) -> str:
    return f'"sha256:{hashlib.sha256(body).hexdigest()}"'


def archive_of(client):
    return client.app.state.desk.archive


def tamper(client, name, **changes):
    """Change what an archive of tests keeps, as nobody could through the service."""
    archive = archive_of(client)
    archive._records[name] = replace(archive._records[name], **changes)


def versions(frozen, folder, count):
    """Give settings with so many releases that differ in nothing but their version."""
    (folder / "releases").mkdir()
    names = []
    for number in range(count):
        data = json.loads(frozen[1])
        data["rulebook"]["version"] = f"2099.{number}.0"
        names.append(data["rulebook"]["version"])
        (folder / "releases" / f"{names[-1]}.json").write_bytes(rfc8785.dumps(data))
    return Settings(knowledge=folder, release=names[0], archive="memory:"), names


def test_an_answer_says_where_it_is_kept_and_what_its_bytes_are(releases_service, ankle):
    response = releases_service.post("/v1/assessments", json=ankle)
    answer = response.json()
    assert response.status_code == 201
    assert response.headers["content-type"] == "application/json"
    assert response.headers["location"] == f"/v1/assessments/{answer['assessment']}"
    assert response.headers["etag"] == digest(response.content)
    assert UUID(answer["assessment"]).version == 7
    assert answer["at"] == "2026-11-25T09:00:00Z"
    assert answer["reference"] == "tarrow/17"
    assert list(answer["sides"]) == ["left", "right"]
    assert answer["understood"]["left"]["talar-tilt-angle"][0] == {
        "value": "11 deg",
        "origin": "/left/talar-tilt-angle/0",
        "on": "2026-03-02",
    }


def test_an_answer_given_again_is_the_same_in_every_byte(releases_service, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    again = releases_service.get(given.headers["location"])
    assert again.status_code == 200
    assert again.content == given.content
    assert again.headers["etag"] == given.headers["etag"]
    assert "private" in again.headers["cache-control"]


@pytest.mark.parametrize("tags", ["{}", '"other", {}', "W/{}", "*"])
def test_an_answer_the_caller_has_is_not_sent_again(releases_service, ankle, tags):
    given = releases_service.post("/v1/assessments", json=ankle)
    known = {"if-none-match": tags.format(given.headers["etag"])}
    again = releases_service.get(given.headers["location"], headers=known)
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == given.headers["etag"]


def test_an_answer_the_caller_has_another_one_of_is_sent(releases_service, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    again = releases_service.get(given.headers["location"], headers={"if-none-match": '"other"'})
    assert again.status_code == 200


def test_a_document_in_another_order_gives_the_same_answer(releases_service, ankle):
    turned = {key: ankle[key] for key in reversed(ankle)}
    turned["left"] = {key: ankle["left"][key] for key in reversed(ankle["left"])}
    answers = []
    for document in (ankle, turned):
        answer = releases_service.post("/v1/assessments", json=document).json()
        answers.append({**answer, "assessment": ""})
    assert json.dumps(answers[0], sort_keys=True) == json.dumps(answers[1], sort_keys=True)


@pytest.mark.parametrize(
    "tilt",
    [
        {"value": 12, "unit": "  degrees "},
        {"value": 12.123456789, "unit": "deg"},
        {"value": 1e-30, "unit": "deg"},
        " 12   deg ",
        ["12 deg"],
        {"value": "12 deg"},
        [{"value": 12, "unit": "deg", "on": "2026-01-01"}, "11 deg", "13 deg"],
    ],
)
def test_however_a_value_is_written_the_answer_is_given_again(releases_service, tilt):
    given = releases_service.post("/v1/assessments", json={"left": {"talar-tilt-angle": tilt}})
    assert given.status_code == 201
    again = releases_service.get(given.headers["location"])
    assert again.content == given.content


def test_everything_is_listed_when_it_is_asked_for_and_again_when_it_is_read_again(
    releases_service, ankle
):
    few = releases_service.post("/v1/assessments", json=ankle).json()
    given = releases_service.post("/v1/assessments?all=true", json=ankle)
    listed = given.json()["sides"]["left"]["options"]
    assert len(listed) == few["sides"]["left"]["considered"] > len(few["sides"]["left"]["options"])
    assert releases_service.get(given.headers["location"]).content == given.content


@pytest.mark.parametrize("by", ["version", "digest", "short digest"])
def test_a_document_is_assessed_under_the_release_that_is_named(releases_service, ankle, by):
    entries = releases_service.get("/v1/releases").json()["releases"]
    entry = next(one for one in entries if one["version"] == "2099.1.0")
    names = {
        "version": "2099.1.0",
        "digest": entry["digest"],
        "short digest": entry["digest"][7:15],
    }
    given = releases_service.post("/v1/assessments", params={"release": names[by]}, json=ankle)
    assert given.json()["release"]["digest"] == entry["digest"]
    assert releases_service.get(given.headers["location"]).content == given.content


@pytest.mark.parametrize("name", ["2098.1.0", "sha256:00", "../releases/2099.1.0", "é"])
def test_a_release_nobody_made_is_not_known(releases_service, ankle, name):
    kept = archive_of(releases_service).count()
    response = releases_service.post("/v1/assessments", params={"release": name}, json=ankle)
    assert response.status_code == 404
    assert response.json()["type"] == "/problems/not-known"
    assert archive_of(releases_service).count() == kept


def test_what_is_kept_is_coded_and_holds_the_reference_once(releases_service, ankle):
    answer = releases_service.post("/v1/assessments", json=ankle).json()
    record = archive_of(releases_service).get(answer["assessment"])
    assert record.reference == "tarrow/17"
    assert record.triage == answer["triage"]
    assert record.release_digest == answer["release"]["digest"]
    assert "tarrow" not in record.findings
    kept = json.loads(record.findings)
    assert kept["left"]["talar-tilt-angle"] == [{"on": "2026-03-02", "value": "11 deg"}, "12.5 deg"]
    assert set(kept) == {"recorded", "person", "left", "right"}


@pytest.mark.parametrize("name", ["nothing", "019a0000-0000-7000-8000-000000000001", "%00", "é"])
@pytest.mark.parametrize("path", ["/v1/assessments/{}", "/v1/assessments/{}/replay"])
def test_an_assessment_nobody_asked_for_is_not_known(releases_service, path, name):
    method = "POST" if path.endswith("replay") else "GET"
    response = releases_service.request(method, path.format(name))
    assert response.status_code == 404
    assert response.json()["type"] == "/problems/not-known"


# -- replays --------------------------------------------------------------------------


@pytest.mark.parametrize("by", [None, "version", "digest"])
def test_played_again_under_its_own_release_an_answer_is_the_same_in_every_byte(
    releases_service, ankle, by
):
    given = releases_service.post("/v1/assessments", json=ankle)
    release = {"release": given.json()["release"][by]} if by else {}
    again = releases_service.post(given.headers["location"] + "/replay", params=release)
    assert again.status_code == 200
    assert again.content == given.content


def test_played_again_under_another_release_only_what_changes_is_told(releases_service, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    path = given.headers["location"] + "/replay?release=2099.1.0"
    told = releases_service.post(path).json()
    assert told["assessment"] == given.json()["assessment"]
    assert told["from"] == given.json()["release"]
    assert told["to"]["version"] == "2099.1.0"
    side = told["sides"]["left"]
    stand = {one["option"]: one["standing"] for one in given.json()["sides"]["left"]["options"]}
    change = next(one for one in side["options"] if one["id"] == REPAIR)
    assert change["from"] == stand.get(REPAIR, "not-indicated") != change["to"] == "indicated"
    verdicts = {change["id"]: (change["from"], change["to"]) for change in side["verdicts"]}
    assert verdicts[RULE][1] == "met"
    assert verdicts["made-up.met"] == (None, "met")
    assert len(verdicts) == 2  # a new rule that is not met changes nothing
    assert side["red_flags"] == []
    right = {change["id"] for change in told["sides"]["right"]["verdicts"]}
    assert right == {"made-up.met", "made-up.not-met"}  # new, and unknown of that side
    assert told["triage"]["from"] == given.json()["triage"]


def test_the_difference_is_what_the_other_release_answers(releases_service, ankle):
    """The same document, handed in afresh under the other release, stands as the replay said."""
    given = releases_service.post("/v1/assessments", json=ankle)
    told = releases_service.post(given.headers["location"] + "/replay?release=2099.1.0").json()
    fresh = releases_service.post("/v1/assessments?release=2099.1.0", json=ankle).json()
    assert told["triage"]["to"] == fresh["triage"]
    stands = {one["option"]: one["standing"] for one in fresh["sides"]["left"]["options"]}
    for change in told["sides"]["left"]["options"]:
        assert stands.get(change["id"]) == change["to"]


def test_a_replay_keeps_nothing(releases_service, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    kept = archive_of(releases_service).count()
    releases_service.post(given.headers["location"] + "/replay?release=2099.1.0")
    assert archive_of(releases_service).count() == kept


def test_a_release_whose_vocabulary_does_not_fit_says_which_finding_does_not(
    releases_service, ankle
):
    ankle["person"]["body-weight"] = "45 kg"
    given = releases_service.post("/v1/assessments", json=ankle)
    response = releases_service.post(given.headers["location"] + "/replay?release=2099.2.0")
    assert response.status_code == 409
    assert [fault["pointer"] for fault in response.json()["faults"]] == ["/person/body-weight"]


def test_a_release_named_in_a_body_is_refused_not_ignored(releases_service, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    path = given.headers["location"] + "/replay"
    response = releases_service.post(path, json={"release": "2099.1.0"})
    assert response.status_code == 422
    assert "?release=" in response.json()["faults"][0]["expected"]


# -- what must never happen quietly ---------------------------------------------------


def test_an_answer_that_comes_out_otherwise_is_an_alarm_and_no_answer(
    several, start, ankle, caplog
):
    with start(several) as client:
        given = client.post("/v1/assessments", json=ankle)
        name = given.json()["assessment"]
        tamper(client, name, answer_digest="sha256:" + "0" * 64)
        with caplog.at_level(logging.CRITICAL, "plafond.web"):
            for response in (
                client.get(given.headers["location"]),
                client.post(given.headers["location"] + "/replay"),
                client.post(given.headers["location"] + "/replay?release=2099.1.0"),
            ):
                assert response.status_code == 500
                assert response.json()["type"] == "/problems/answer-differs"
        alarms = [one for one in caplog.records if one.levelno == logging.CRITICAL]
        assert len(alarms) == 3
        assert all(name in alarm.getMessage() for alarm in alarms)
        assert client.get("/readyz").json()["alarms"] == 3


def test_an_answer_whose_release_is_gone_is_not_given_from_another(several, start, ankle):
    with start(several) as client:
        given = client.post("/v1/assessments", json=ankle)
        tamper(client, given.json()["assessment"], release_digest="sha256:" + "0" * 64)
        response = client.get(given.headers["location"])
        assert response.status_code == 503
        assert response.json()["type"] == "/problems/archive-not-available"


def test_findings_that_cannot_be_read_any_more_are_no_fault_of_the_caller(several, start, ankle):
    with start(several) as client:
        given = client.post("/v1/assessments", json=ankle)
        tamper(client, given.json()["assessment"], findings='{"left":{"no-such-finding":1}}')
        assert client.get(given.headers["location"]).status_code == 503


def test_a_release_that_somebody_runs_is_not_dropped_for_others(frozen, tmp_path, start):
    settings, names = versions(frozen, tmp_path, 6)
    with start(settings) as client:
        live = client.app.state.desk.live
        with live.running(names[1]) as held:
            for name in names[2:]:
                with live.running(name):
                    pass
            assert len(held.inference.truths({})) == len(held.rulebook.rules)
        assert len(live._live) == 4
        assert live.alarms == 0


def test_releases_come_and_go_while_others_run_them(frozen, tmp_path, start, ankle):
    """More releases than stay at hand, all asked for at once: none is dropped under a request."""
    settings, names = versions(frozen, tmp_path, 6)
    with start(settings) as client, ThreadPoolExecutor(8) as pool:

        def ask(name: str) -> tuple[int, str]:
            response = client.post("/v1/assessments", params={"release": name}, json=ankle)
            return response.status_code, response.json()["release"]["version"]

        asked = names * 4
        assert list(pool.map(ask, asked)) == [(201, name) for name in asked]
        live = client.app.state.desk.live
        client.get("/v1/releases/" + names[0])
        assert len(live._live) <= 4
        assert live.alarms == 0
