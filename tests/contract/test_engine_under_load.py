"""When the engine dies or disagrees: is no request lost, no answer wrong, and nothing kept?"""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

THREADS = 8
REQUESTS = 240
KILLS = 4


def body_of(answer: dict) -> dict:
    """Return an answer without what is different in every one."""
    return {key: value for key, value in answer.items() if key != "assessment"}


def test_an_engine_killed_again_and_again_under_load_loses_no_request(
    several, start, ankle, measured
):
    with start(several) as client:
        expected = body_of(client.post("/v1/assessments", json=ankle).json())
        engine = client.app.state.desk.live._engine
        archive = client.app.state.desk.archive
        kept = archive.count()
        killed: list[int] = []
        done = threading.Event()

        def kill() -> None:
            """Kill the engine's process while requests run through it, and wait for the next."""
            while len(killed) < KILLS and not done.is_set():
                pid = engine.pid
                # one retry is promised, not one for every death: wait until this process has
                # answered those that the last death interrupted
                if pid is not None and pid not in killed and engine._runs > 2 * THREADS:
                    os.kill(pid, signal.SIGSEGV)
                    killed.append(pid)
                time.sleep(0.01)

        killer = threading.Thread(target=kill)
        killer.start()
        started = time.perf_counter()
        with ThreadPoolExecutor(THREADS) as pool:
            asked = [
                pool.submit(client.post, "/v1/assessments", json=ankle) for _ in range(REQUESTS)
            ]
            responses = [one.result() for one in asked]
        seconds = time.perf_counter() - started
        done.set()
        killer.join()

        assert len(killed) >= 2
        assert [one.status_code for one in responses] == [201] * REQUESTS
        assert all(body_of(one.json()) == expected for one in responses)
        assert archive.count() == kept + REQUESTS
        after = client.post("/v1/assessments", json=ankle)
        assert body_of(after.json()) == expected
        assert client.get("/readyz").json()["alarms"] == 0
        measured(
            f"{REQUESTS} assessments from {THREADS} threads, engine killed {len(killed)} times: "
            f"{seconds:.1f} s"
        )


def running(client):
    """Return the release in service, ready to run."""
    with client.app.state.desk.live.running() as release:
        return release


def test_interpreters_that_disagree_give_no_answer_but_an_alarm(several, start, ankle, caplog):
    with start(several) as client:
        inference = running(client).inference
        right, archive = inference._function, client.app.state.desk.archive
        wrong_one = inference.program.outcome("general.smoking.fusion")
        inference._function = lambda known: right(known) ^ {wrong_one}
        with caplog.at_level(logging.CRITICAL, "plafond.inference"):
            response = client.post("/v1/assessments", json=ankle)
        assert response.status_code == 503
        problem = response.json()
        assert problem["type"] == "/problems/no-answer"
        assert "general.smoking.fusion" in problem["detail"]
        assert int(response.headers["retry-after"]) > 0
        alarms = [one.getMessage() for one in caplog.records if one.levelno == logging.CRITICAL]
        assert len(alarms) == 1
        assert problem["case"] in alarms[0]
        assert archive.count() == 0
        assert client.get(f"/v1/assessments/{problem['case']}").status_code == 404
        assert client.get("/readyz").status_code == 503

        inference._function = right
        assert client.post("/v1/assessments", json=ankle).status_code == 201
        assert client.get("/readyz").json()["alarms"] == 2  # the document's, and the probe's


def test_an_answer_kept_before_is_not_given_again_by_interpreters_that_disagree(
    several, start, ankle
):
    with start(several) as client:
        given = client.post("/v1/assessments", json=ankle)
        inference = running(client).inference
        right = inference._function
        inference._function = lambda known: right(known) ^ {inference.program.outcome(RULE)}
        for response in (
            client.get(given.headers["location"]),
            client.post(given.headers["location"] + "/replay?release=2099.1.0"),
        ):
            assert response.status_code == 503
            assert response.json()["case"] == given.json()["assessment"]
        inference._function = right
        assert client.get(given.headers["location"]).content == given.content


RULE = "ankle.lateral-ligament.arthroscopic-repair.indicated"


@pytest.mark.parametrize("signal_number", [signal.SIGSEGV, signal.SIGKILL, signal.SIGSTOP])
def test_an_engine_that_dies_or_hangs_before_a_request_is_replaced(
    several, start, ankle, signal_number
):
    with start(several) as client:
        client.post("/v1/assessments", json=ankle)
        os.kill(client.app.state.desk.live._engine.pid, signal_number)
        assert client.post("/v1/assessments", json=ankle).status_code == 201
