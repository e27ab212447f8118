"""Is the right answer given whatever happens to the engine's process?

A crash between or during requests, a silence, a recycled process, two releases side by side, a
dropped one: the next answer is right, or there is none and an alarm.
"""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from plafond.errors import (
    EngineBuildError,
    EngineUnavailableError,
    InterpretersDisagreeError,
)
from plafond.inference import crosscheck
from plafond.inference.crosscheck import EngineProcess, Inference, plan
from plafond.inference.evaluate import evaluate_rulebook
from strategies import Seeded, case, rulebook

CRASHES = (signal.SIGSEGV, signal.SIGKILL, signal.SIGABRT)


def made_up(seed, *, rules=20, findings=8):
    book = rulebook(Seeded(seed), rules=rules, findings=findings)
    return replace(book, digest=f"sha256:process-{seed}")


@pytest.fixture
def process():
    """An engine process of one's own, to hurt."""
    own = EngineProcess()
    yield own
    own.stop()


def ask(inference, seed=0, percent=60):
    """Assert that a random case is answered as the oracle answers it."""
    values = case(Seeded(seed), list(inference.rulebook.vocabulary), percent)
    assert inference.truths(values) == evaluate_rulebook(inference.rulebook, values)


def end(pid, number):
    """Send a signal and wait until the process is gone (or, stopped, is seen to be stopped)."""
    os.kill(pid, number)
    wanted = "T" if number == signal.SIGSTOP else "Z"
    for _ in range(500):
        if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == wanted:
            return
        time.sleep(0.01)
    raise AssertionError(f"{pid} did not become {wanted}")


def test_no_process_runs_before_it_is_needed_and_none_after_it_is_stopped(process):
    assert process.pid is None
    Inference(made_up(1), process)
    pid = process.pid
    assert pid is not None
    process.stop()
    assert process.pid is None
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


@pytest.mark.parametrize("number", CRASHES, ids=lambda number: number.name)
def test_a_crash_between_requests_does_not_cost_the_next_answer(process, number):
    inference = Inference(made_up(2), process)
    ask(inference)
    before = process.pid
    end(before, number)
    for seed in range(5):
        ask(inference, seed)
    assert process.pid not in (None, before)
    assert inference.alarms == 0


@pytest.mark.parametrize("number", CRASHES, ids=lambda number: number.name)
def test_a_crash_during_a_request_does_not_cost_its_answer(process, number, caplog):
    """The process is stopped, so that the request is under way when the process is killed."""
    inference = Inference(made_up(3), process)
    ask(inference)
    before = process.pid
    end(before, signal.SIGSTOP)

    def kill_soon():
        time.sleep(0.2)
        os.kill(before, number)
        os.kill(before, signal.SIGCONT)

    killer = threading.Thread(target=kill_soon)
    killer.start()
    with caplog.at_level(logging.WARNING, "plafond.inference"):
        ask(inference)
    killer.join()
    assert process.pid not in (None, before)
    assert f"ended by {number.name}" in caplog.text
    assert inference.alarms == 0


def test_a_silent_process_is_replaced_and_the_answer_is_right(process, caplog):
    inference = Inference(made_up(4), process)
    ask(inference)
    before = process.pid
    end(before, signal.SIGSTOP)
    started = time.monotonic()
    with caplog.at_level(logging.WARNING, "plafond.inference"):
        ask(inference)
    assert crosscheck.ANSWER_SECONDS <= time.monotonic() - started < crosscheck.ANSWER_SECONDS + 5
    assert process.pid not in (None, before)
    assert "no answer in time" in caplog.text


def test_a_process_is_recycled_after_so_many_runs(process, monkeypatch):
    monkeypatch.setattr(crosscheck, "RECYCLE_AFTER", 3)
    inference = Inference(made_up(5), process)
    seen = []
    for seed in range(9):
        ask(inference, seed)
        seen.append(process.pid)
    assert len(set(seen)) == 3
    assert [seen.count(pid) for pid in dict.fromkeys(seen)] == [3, 3, 3]


def test_two_releases_side_by_side_do_not_touch_each_other(process):
    first, second = Inference(made_up(6), process), Inference(made_up(7, findings=5), process)
    for seed in range(20):
        ask(first, seed)
        ask(second, seed)
    first.close()
    for seed in range(5):
        ask(second, seed)


def test_a_dropped_release_is_gone_and_can_be_loaded_again(process, caplog):
    book = made_up(8)
    inference = Inference(book, process)
    inference.close()
    with pytest.raises(EngineUnavailableError):
        inference.truths({})
    again = Inference(book, process)
    again.close()
    again = Inference(book, process)
    pid = process.pid
    caplog.clear()
    with caplog.at_level(logging.WARNING, "plafond.inference"):
        ask(again)
    assert process.pid == pid, "it was loaded at once, not on the second try"
    assert not caplog.records


def test_one_release_loaded_twice_lives_until_both_are_closed(process):
    book = made_up(9)
    first, second = Inference(book, process), Inference(book, process)
    first.close()
    ask(second)
    second.close()
    with pytest.raises(EngineUnavailableError):
        second.truths({})


def test_a_release_without_a_digest_never_answers_for_another(process):
    """Rulebooks that were never released come and go; a name must not be used again."""
    books = [replace(made_up(seed, rules=6, findings=4), digest="") for seed in range(40)]
    for book in books:
        inference = Inference(book, process)
        pid = process.pid
        ask(inference, percent=100)
        assert process.pid == pid
        del inference


def test_after_a_restart_every_release_is_loaded_again(process):
    inferences = [Inference(made_up(seed), process) for seed in (10, 11, 12)]
    end(process.pid, signal.SIGKILL)
    for inference in inferences:
        ask(inference)


def test_a_release_the_engine_cannot_bear_is_refused_and_the_others_live(process):
    inference = Inference(made_up(13), process)
    too_wide = {"strata": [[{"id": 0, "literals": list(range(80)), "rules": [[200, 1]]}]]}
    with pytest.raises(EngineBuildError, match="80 literals"):
        process.load("sha256:too-wide", too_wide)
    ask(inference)
    end(process.pid, signal.SIGKILL)
    ask(inference)


def test_threads_share_one_process_and_every_answer_is_right(process):
    inference = Inference(made_up(14), process)
    wrong = []

    def work(start):
        try:
            for seed in range(start, start + 40):
                ask(inference, seed)
        except BaseException as error:  # noqa: BLE001 -- told to the main thread
            wrong.append(error)

    threads = [threading.Thread(target=work, args=(start,)) for start in (0, 100, 200, 300)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong


def test_under_load_with_the_process_killed_again_and_again_no_answer_is_lost(process):
    inference = Inference(made_up(15), process)
    killed = 0
    for seed in range(60):
        if seed % 10 == 5:
            os.kill(process.pid, signal.SIGSEGV)
            killed += 1
        ask(inference, seed)
    assert killed == 6
    assert inference.alarms == 0


def test_an_engine_that_cannot_start_gives_an_error_and_an_alarm(process, monkeypatch, caplog):
    inference = Inference(made_up(16), process)
    process.stop()
    monkeypatch.setattr(crosscheck.sys, "executable", "/bin/false")
    with (
        caplog.at_level(logging.CRITICAL, "plafond.inference"),
        pytest.raises(EngineUnavailableError, match=r"case-7.*also when started afresh"),
    ):
        inference.truths({}, case="case-7")
    assert inference.alarms == 1
    assert "case-7" in caplog.text


def test_a_lasting_disagreement_gives_no_answer_and_an_alarm(process, caplog):
    """The engine is given the plan of other rules: it answers, and answers wrongly."""
    book = made_up(17)
    inference = Inference(book, process)
    values = case(Seeded(0), list(book.vocabulary), 100)
    ask(inference, 0, 100)
    broken = plan(inference.program)
    block = broken["strata"][0][0]
    code, form = block["rules"][0]
    block["rules"][0] = [code ^ 1, form]
    process.drop(book.digest)
    process.load(book.digest, broken)
    before = process.pid
    with (
        caplog.at_level(logging.WARNING, "plafond.inference"),
        pytest.raises(InterpretersDisagreeError, match="case-9"),
    ):
        inference.truths(values, case="case-9")
    assert process.pid != before, "it was tried once more in a fresh process"
    assert inference.alarms == 1
    assert "disagree" in caplog.text
