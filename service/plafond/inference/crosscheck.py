"""Two interpreters agree or there is no answer.

Runs the known literals through the engine's process and through the compiled function, side by
side. A crash, a silence or a disagreement is tried once more in a fresh process; then it is an
error and an alarm, never an answer from one interpreter alone.
"""

from __future__ import annotations

import json
import logging
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import count
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import Any, assert_never

from plafond.errors import EngineBuildError, EngineUnavailableError, InterpretersDisagreeError
from plafond.findings import Truth
from plafond.inference.compile import And, Form, Lit, Or, Program, form_literals
from plafond.inference.function import compile_function
from plafond.inference.limits import BLOCK_LITERALS
from plafond.rulebook import Rulebook
from plafond.vocabulary import Value

log = logging.getLogger("plafond.inference")

ANSWER_SECONDS = 2.0
BUILD_SECONDS = 60.0
RECYCLE_AFTER = 100_000

_unreleased = count(1)


class EngineProcess:
    """The engine's child process: started when first needed, restarted when it dies."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._pipe: Connection | None = None
        self._plans: dict[str, Any] = {}
        self._users: Counter[str] = Counter()
        self._loaded: set[str] = set()
        self._runs = 0
        self._lock = threading.RLock()

    @property
    def pid(self) -> int | None:
        """Return the process id of the child, or None where none runs."""
        process = self._process
        return process.pid if process is not None and process.poll() is None else None

    def load(self, release: str, plan: Mapping[str, Any]) -> None:
        """Build a release in the child, once for all who load it.

        Raises EngineBuildError where it breaks a limit.
        """
        with self._lock:
            self._plans.setdefault(release, plan)
            self._ensure()
            self._users[release] += 1

    def drop(self, release: str) -> None:
        """Forget a release, here and in the child, once everybody who loaded it dropped it."""
        with self._lock:
            self._users[release] -= 1
            if self._users[release] > 0:
                return
            del self._users[release]
            self._plans.pop(release, None)
            if release in self._loaded and self.pid is not None:
                self._ask({"do": "drop", "release": release}, ANSWER_SECONDS)
            self._loaded.discard(release)

    def run(self, release: str, literals: Sequence[int]) -> set[int]:
        """Return the outcome literals. Raises EngineUnavailableError on a crash or silence."""
        with self._lock:
            if self._runs >= RECYCLE_AFTER:
                self.stop()
            self._ensure()
            self._runs += 1
            request = {"do": "run", "release": release, "literals": literals}
            return set(self._ask(request, ANSWER_SECONDS))

    def stop(self) -> None:
        """End the child; the next request starts a fresh one."""
        with self._lock:
            if self._pipe is not None:
                self._pipe.close()
            if self._process is not None:
                self._process.kill()
                self._process.wait()
            self._pipe = self._process = None
            self._loaded.clear()
            self._runs = 0

    def _ensure(self) -> None:
        if self.pid is None:
            self.stop()
            self._start()
        for release, plan in self._plans.items():
            if release not in self._loaded:
                self._load(release, plan)
                self._loaded.add(release)

    def _load(self, release: str, plan: Mapping[str, Any]) -> None:
        try:
            self._ask({"do": "load", "release": release, "plan": plan}, BUILD_SECONDS)
        except _ChildError as error:
            self._plans.pop(release, None)
            raise EngineBuildError(
                "the release breaks a limit of the engine",
                where=release,
                found=str(error),
                mend="split the rule named with a derivation",
            ) from error

    def _start(self) -> None:
        ours, theirs = Pipe()
        descriptor = theirs.fileno()
        self._process = subprocess.Popen(  # noqa: S603 -- our own module, our own descriptor
            [sys.executable, "-m", "plafond.inference.engine", str(descriptor)],
            pass_fds=[descriptor],
            stdin=subprocess.DEVNULL,
            start_new_session=True,  # Ctrl-C at the terminal is for us, not for the child
        )
        theirs.close()
        self._pipe = ours

    def _ask(self, request: Mapping[str, Any], seconds: float) -> Any:
        pipe = self._pipe
        assert pipe is not None
        try:
            pipe.send_bytes(json.dumps(request).encode())
            if not pipe.poll(seconds):
                raise TimeoutError
            answer = json.loads(pipe.recv_bytes())
        except (OSError, EOFError) as error:
            found = self._how_it_ended(error)
            self.stop()
            raise EngineUnavailableError("the engine gave no answer", found=found) from error
        if "error" in answer:
            raise _ChildError(answer["error"])
        return answer["ok"]

    def _how_it_ended(self, error: Exception) -> str:
        if isinstance(error, TimeoutError):
            return "no answer in time"
        try:
            code = self._process.wait(1) if self._process is not None else None
        except subprocess.TimeoutExpired:
            return "the pipe was closed"
        if code is not None and code < 0:
            return f"the process ended by {signal.Signals(-code).name}"
        return f"the process ended with {code}"


class _ChildError(EngineUnavailableError):
    """The child caught an error and said so; it still lives."""


class Inference:
    """One release ready to run: both interpreters, and the rule that they must agree."""

    def __init__(self, rulebook: Rulebook, engine: EngineProcess) -> None:
        self.rulebook = rulebook
        self.program = Program(rulebook)
        self.alarms = 0
        self._engine = engine
        self._function = compile_function(self.program)
        self._release = rulebook.digest or f"unreleased-{next(_unreleased)}"
        engine.load(self._release, plan(self.program))

    def close(self) -> None:
        """Drop the release from the engine's process."""
        self._engine.drop(self._release)

    def truths(self, values: Mapping[str, Value], case: str = "") -> dict[str, Truth]:
        """Return the truth of every rule over the known values of one side.

        `case` names the assessment in errors and in the log. Raises EngineUnavailableError or
        InterpretersDisagreeError where there is no answer two interpreters agree on.
        """
        known = self.program.literals(values)
        expected = self._function(known)
        try:
            found = self._twice(sorted(known), expected)
        except EngineUnavailableError as error:
            self._alarm(f"the engine is down: {error}", case)
            raise EngineUnavailableError(
                "the inference engine gave no answer, also when started afresh",
                where=case,
                found=error.found,
                mend="send the document again; if it happens again, call who runs the service",
            ) from error
        if found != expected:
            differing = self._rules_of(found ^ expected)
            self._alarm(f"the interpreters disagree on {', '.join(differing)}", case)
            raise InterpretersDisagreeError(
                "two interpreters of one release disagree, so there is no answer",
                where=case,
                found=f"a difference on {', '.join(differing)}",
                mend="this is a fault of the service; it has been logged",
            )
        return {rule: self._truth(rule, found, case) for rule in self.rulebook.rules}

    def _twice(self, known: list[int], expected: set[int]) -> set[int]:
        """Ask the engine; where it fails or disagrees, ask a fresh process once more."""
        try:
            found = self._engine.run(self._release, known)
            if found == expected:
                return found
            log.warning("the interpreters disagree; asking a fresh engine")
        except EngineUnavailableError as error:
            log.warning("%s; asking a fresh engine", error)
        self._engine.stop()
        return self._engine.run(self._release, known)

    def _truth(self, rule: str, found: set[int], case: str) -> Truth:
        code = self.program.outcome(rule)
        if code in found and code + 1 in found:
            self._alarm(f"{rule} is both met and not met", case)
            raise InterpretersDisagreeError(
                "a rule came out both met and not met", where=case, found=rule
            )
        return Truth.MET if code in found else Truth.of(False if code + 1 in found else None)

    def _rules_of(self, outcomes: set[int]) -> list[str]:
        names = {step.code: step.name for step in self.program.steps}
        return sorted({names.get(code, str(code)) for code in outcomes})

    def _alarm(self, message: str, case: str) -> None:
        self.alarms += 1
        log.critical("no answer for case %s: %s", case or "(unnamed)", message)


def plan(program: Program) -> dict[str, Any]:
    """Return a program as the plain data the engine's process builds its blocks from."""
    strata: list[list[dict[str, Any]]] = []
    number = 0
    for step in program.steps:
        while len(strata) <= step.stratum:
            strata.append([])
        needed = form_literals(step.form)
        block = _block_for(strata[step.stratum], needed)
        if block is None:
            block = {"id": number, "literals": [], "rules": []}
            strata[step.stratum].append(block)
            number += 1
        block["literals"] = sorted({*block["literals"], *needed})
        block["rules"].append([step.code, _plain(step.form)])
    return {"strata": strata}


def _block_for(blocks: list[dict[str, Any]], needed: set[int]) -> dict[str, Any] | None:
    fitting = (block for block in blocks if len(needed.union(block["literals"])) <= BLOCK_LITERALS)
    return next(fitting, None)


def _plain(form: Form) -> Any:
    match form:
        case Lit(code):
            return code
        case And(parts):
            return ["and", *(_plain(part) for part in parts)]
        case Or(parts):
            return ["or", *(_plain(part) for part in parts)]
        case _ as never:
            assert_never(never)
