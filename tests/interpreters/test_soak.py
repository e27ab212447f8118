"""Sixty thousand sessions on the real knowledge: flat memory, nothing wrong. Run by name.

pytest -m soak tests/interpreters/test_soak.py
"""

from __future__ import annotations

from pathlib import Path

import pytest

from plafond.inference.crosscheck import RECYCLE_AFTER, EngineProcess, Inference
from plafond.inference.evaluate import evaluate_rulebook
from plafond.inference.explain import candidates
from strategies import Seeded

SESSIONS = 60_000
WARM_UP = 5_000
#: The oracle is slow on purpose; function and engine are compared in every session.
ORACLE_EVERY = 10
MOST_GROWTH_MB = 3


def resident_mb(pid) -> float:
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * 4096 / 1e6


@pytest.mark.soak
def test_sixty_thousand_sessions_leave_memory_flat_and_nothing_wrong(rulebook, measured):
    assert SESSIONS <= RECYCLE_AFTER, "one process bears them all"
    process = EngineProcess()
    inference = Inference(rulebook, process)
    pid = process.pid
    tests = inference.program.atoms
    values = {
        one.id: candidates(one, [test for test in tests if test.finding == one.id])
        for one in rulebook.vocabulary
        if not one.derived
    }
    choices = Seeded(60_000)
    decided = asked = 0
    before = 0.0
    for session in range(SESSIONS):
        if session == WARM_UP:
            before = resident_mb(pid)
        percent = choices.whole(0, 100)
        known = {
            name: choices.one(ways)
            for name, ways in values.items()
            if choices.whole(1, 100) <= percent
        }
        truths = inference.truths(known)
        if session % ORACLE_EVERY == 0:
            assert truths == evaluate_rulebook(rulebook, known), known
            decided += sum(truth.value != "unknown" for truth in truths.values())
            asked += len(truths)
    after = resident_mb(pid)
    assert (process.pid, inference.alarms) == (pid, 0), "the process was never replaced"
    process.stop()
    measured(
        f"{SESSIONS} sessions, {len(rulebook.rules)} rules, {100 * decided / asked:.0f} % decided,"
        f" 0 wrong; the engine's process {before:.1f} MB after {WARM_UP}, {after:.1f} MB at the end"
    )
    assert after - before < MOST_GROWTH_MB
