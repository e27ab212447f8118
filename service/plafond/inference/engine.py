"""The inference engine's own process: durable-rules, guarded so that it cannot hurt.

The only file that imports `durable`. Speaks plain data over one pipe: load a plan, run known
literals through it, drop it. Knows literals and nothing else: no value, string, unit or null
ever reaches the engine. Each guard below stands against a measured fault of durable-rules
2.0.28; `tests/interpreters/test_engine_guards.py` shows each fault without its guard.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib.metadata import version
from itertools import cycle
from multiprocessing.connection import Connection
from typing import Any

import durable_rules_engine
from durable.engine import Host

from plafond.inference.limits import (
    BLOCK_LITERALS,
    MOST_BLOCKS,
    MOST_RULES,
    PINNED,
    SESSIONS,
)

_RULESET = "rulebook"
_SENTINEL_BLOCK = -1

Definition = dict[str, Any]


class QuietHost(Host):  # type: ignore[misc]
    """A host without its two timer threads, which walk freed sessions and crash."""

    def _run(self) -> None:
        return


def fnv32(name: str) -> int:
    """Return the hash durable-rules knows a name by (32-bit FNV-1a)."""
    value = 0x811C9DC5
    for byte in name.encode():
        value = ((value ^ byte) * 0x01000193) & 0xFFFFFFFF
    return value


def require_distinct(names: Iterable[str]) -> None:
    """Raise ValueError where two names share a hash: a rule on one would fire on the other."""
    seen: dict[int, str] = {}
    for name in names:
        other = seen.setdefault(fnv32(name), name)
        if other != name:
            raise ValueError(f"{name} and {other} share an engine hash; rename one finding")


class Engine:
    """One release in durable-rules: one fact a block, positive literals, no empty batch."""

    def __init__(self, plan: Mapping[str, Any]) -> None:
        self._fired: set[int] = set()
        self._strata: list[list[tuple[int, frozenset[int]]]] = [
            [(block["id"], frozenset(block["literals"])) for block in stratum]
            for stratum in plan["strata"]
        ]
        self._lock = threading.Lock()
        self._sessions = cycle(SESSIONS)
        definitions = self._definitions(plan)
        self._check_limits(plan, definitions)
        self._host = QuietHost()
        self._host.set_rulesets({_RULESET: definitions})
        self._warm_up()
        self._self_test(plan)

    def run(self, literals: Iterable[int]) -> list[int]:
        """Return the outcome literals that follow from the known literals."""
        with self._lock:
            return sorted(self._session(set(literals)))

    def close(self) -> None:
        """Drop the ruleset at the C level; the host has no way to, and would keep 10 MB."""
        with self._lock:
            ruleset = self._host.get_ruleset(_RULESET)
            durable_rules_engine.delete_ruleset(ruleset._handle)
            self._host._ruleset_directory.clear()
            self._host._ruleset_list.clear()

    def _session(self, known: set[int]) -> set[int]:
        sid = next(self._sessions)
        outcomes: set[int] = set()
        try:
            self._assert_sentinel(sid)
            for stratum in self._strata:
                self._fired.clear()
                facts = [
                    fact_of(sid, block, known & literals)
                    for block, literals in stratum
                    if not known.isdisjoint(literals)
                ]
                if facts:  # an empty batch returns an uninitialised session handle
                    self._raise_from(self._host.assert_facts(_RULESET, facts))
                outcomes |= self._fired
                known = known | self._fired
        finally:
            self._host.delete_state(_RULESET, sid)
        return outcomes

    def _assert_sentinel(self, sid: str) -> None:
        """Start an action before anything else: a session deleted without one frees garbage."""
        sentinel = {"sid": sid, "id": "sentinel", "b": _SENTINEL_BLOCK}
        self._raise_from(self._host.assert_fact(_RULESET, sentinel))

    @staticmethod
    def _raise_from(state: Mapping[str, Any] | None) -> None:
        """Raise what a consequent raised: durable-rules files it in the state and goes on."""
        if state and "exception" in state:
            raise RuntimeError(f"a consequent failed: {state['exception']}")

    def _definitions(self, plan: Mapping[str, Any]) -> dict[str, Definition]:
        definitions = {"sentinel": _definition({"b": _SENTINEL_BLOCK}, _nothing)}
        for stratum in plan["strata"]:
            for block in stratum:
                number = block["id"]
                # without a rule that every fact of the block meets, an unmatched fact
                # cancels the actions of the whole batch
                definitions[f"b{number}"] = _definition({"b": number}, _nothing)
                for index, (outcome, form) in enumerate(block["rules"]):
                    test = {"$and": [{"b": number}, _test(form)]}
                    definitions[f"r{number}-{index}"] = _definition(test, self._fire(outcome))
        return definitions

    def _fire(self, outcome: int) -> Callable[[Any], None]:
        def consequent(_closure: Any) -> None:
            self._fired.add(outcome)

        return consequent

    def _check_limits(self, plan: Mapping[str, Any], definitions: Mapping[str, Definition]) -> None:
        blocks = [block for stratum in plan["strata"] for block in stratum]
        if len(blocks) > MOST_BLOCKS:
            raise ValueError(f"{len(blocks)} blocks; the engine hangs above {MOST_BLOCKS}")
        if len(definitions) > MOST_RULES:
            raise ValueError(f"{len(definitions)} engine rules; at most {MOST_RULES}")
        for block in blocks:
            if len(block["literals"]) > BLOCK_LITERALS:
                raise ValueError(f"block {block['id']} has {len(block['literals'])} literals")
        names = {property_name(code) for block in blocks for code in block["literals"]}
        require_distinct(sorted({*names, "b", "id", "sid"}))
        require_distinct(SESSIONS)
        require_distinct(["sentinel", *(fact_id(block["id"]) for block in blocks)])

    def _warm_up(self) -> None:
        for _ in SESSIONS:
            self._session(set())

    def _self_test(self, plan: Mapping[str, Any]) -> None:
        """Assert each block with all its literals, more than a case can hold: all must fire."""
        for stratum in plan["strata"]:
            for block in stratum:
                sid = next(self._sessions)
                self._fired.clear()
                try:
                    self._assert_sentinel(sid)
                    fact = fact_of(sid, block["id"], block["literals"])
                    self._raise_from(self._host.assert_facts(_RULESET, [fact]))
                finally:
                    self._host.delete_state(_RULESET, sid)
                wanted = {outcome for outcome, _ in block["rules"]}
                if self._fired != wanted:
                    raise ValueError(f"block {block['id']} is too rich for the engine")


def _definition(test: Definition, consequent: Callable[[Any], None]) -> Definition:
    return {"all": [{"m": test}], "run": consequent}


def _nothing(_closure: Any) -> None:
    return


def _test(form: Any) -> Definition:
    """Return a form (a literal, or ["and"|"or", parts...]) as the engine's nested test."""
    if isinstance(form, int):
        return {property_name(form): 1}
    word, *parts = form
    return {f"${word}": [_test(part) for part in parts]}


def property_name(code: int) -> str:
    """Return the fact property that stands for a literal."""
    return f"l{code}"


def fact_id(block: int) -> str:
    """Return the id of the one fact of a block; ids are unique within a session."""
    return f"f{block}"


def fact_of(sid: str, block: int, literals: Iterable[int]) -> dict[str, Any]:
    """Return the fact that tells a session which literals of a block are known."""
    fact: dict[str, Any] = {"sid": sid, "id": fact_id(block), "b": block}
    fact.update((property_name(code), 1) for code in literals)
    return fact


def require_guarded_process() -> None:
    """Refuse to start on another version of the engine, or beside its timer threads."""
    found = version("durable-rules")
    if found != PINNED:
        raise RuntimeError(f"durable-rules {found} was not measured; install {PINNED}")
    QuietHost()
    if threading.active_count() != 1:
        raise RuntimeError("the engine started threads of its own")


def serve(pipe: Connection) -> None:
    """Answer requests until the pipe closes; each answer says `ok` or names the error."""
    require_guarded_process()
    engines: dict[str, Engine] = {}
    while True:
        try:
            request = json.loads(pipe.recv_bytes())
        except (EOFError, OSError):
            return
        try:
            answer = {"ok": _answer(engines, request)}
        except Exception as error:  # noqa: BLE001 -- the parent decides what an error means
            answer = {"error": f"{type(error).__name__}: {error}"}
        pipe.send_bytes(json.dumps(answer).encode())


def _answer(engines: dict[str, Engine], request: Mapping[str, Any]) -> Any:
    name = request["release"]
    match request["do"]:
        case "load":
            engines[name] = Engine(request["plan"])
            return True
        case "drop":
            engine = engines.pop(name, None)
            if engine is not None:
                engine.close()
            return True
        case _:
            return engines[name].run(request["literals"])


def main(arguments: Sequence[str]) -> None:
    """Serve on the pipe whose file descriptor is the only argument."""
    serve(Connection(int(arguments[0])))
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1:])
