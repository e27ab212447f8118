"""Each guard of the engine stands against a fault of durable-rules; here is each fault.

Every row takes one guard out of the text of `engine.py`, runs the rest of it in a process of its
own, and shows what happens: a crash, a hang, dropped facts, shared sessions. The same script with
the guard in place ends well. Where several guards stand against one fault, the others are taken
out of both runs (`besides`), so that the one named is what makes the difference.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from plafond.errors import EngineBuildError
from plafond.findings import Truth
from plafond.inference import compile as compile_module
from plafond.inference import engine as engine_module
from plafond.inference.crosscheck import Inference
from plafond.rulebook import All, AnyOf, Is
from strategies import Seeded, definitions, rule, rulebook_of

#: glibc fills what it hands out and takes back with this byte, so that reading memory nobody
#: wrote shows at once instead of once a month.
DIRTY_HEAP = {"MALLOC_PERTURB_": "165"}

PRELUDE = """
import functools, json, os, sys, threading, time, types
print = functools.partial(print, flush=True)
edits = json.loads(sys.argv[1])
text = open(edits.pop("file")).read()
for old, new in edits.items():
    assert text.count(old) == 1, f"engine.py has {text.count(old)} times {old!r}"
    text = text.replace(old, new)
module = types.ModuleType("guarded")
exec(compile(text, "engine.py", "exec"), module.__dict__)
Engine, QuietHost, Host = module.Engine, module.QuietHost, module.Host

# literals 0 and 2 in one block, 6 and 8 in another; what follows from both in a third
PLAN = {"strata": [
    [{"id": 0, "literals": [0, 2, 4], "rules": [[100, ["and", 0, 2]], [102, ["or", 0, 4]]]},
     {"id": 1, "literals": [6, 8], "rules": [[104, ["and", 6, 8]]]}],
    [{"id": 2, "literals": [100, 104], "rules": [[106, ["and", 100, 104]]]}]]}

def wide(literals, rules=1):
    ring = [["and", 2 * k, 2 * ((k + 1) % literals)] for k in range(literals)]
    return {"strata": [[{"id": 0, "literals": list(range(0, 2 * literals, 2)),
                         "rules": [[10_000 + 2 * k, form] for k, form in enumerate(ring)]}]]}

def resident():
    return int(open("/proc/self/statm").read().split()[1]) * 4096 / 1e6

def refused(make):
    try:
        make()
    except ValueError:
        print("right")
        sys.exit()

"""

Fault = Callable[[subprocess.CompletedProcess[str]], bool]


def crashed(done: subprocess.CompletedProcess[str]) -> bool:
    return done.returncode in (-6, -11)


def hung(done: subprocess.CompletedProcess[str]) -> bool:
    return done.returncode == HUNG


def said(*words: str) -> Fault:
    def fault(done: subprocess.CompletedProcess[str]) -> bool:
        return all(word in done.stdout + done.stderr for word in words)

    return fault


def crashed_or_said(*words: str) -> Fault:
    return lambda done: crashed(done) or said(*words)(done)


HUNG = 1000


@dataclass(frozen=True)
class Guard:
    """One guard: its text in engine.py, what is put there instead, and the fault that shows."""

    name: str
    text: str
    without: str
    script: str
    fault: Fault
    besides: tuple[tuple[str, str], ...] = ()
    dirty: bool = False
    seconds: int = 30

    def run(self, guarded: bool) -> subprocess.CompletedProcess[str]:
        edits = {"file": engine_module.__file__, **dict(self.besides)}
        if not guarded:
            edits[self.text] = self.without
        return run(PRELUDE + self.script, edits, DIRTY_HEAP if self.dirty else {}, self.seconds)


def run(
    script: str, edits: dict[str, str], environment: dict[str, str], seconds: int
) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", script, json.dumps(edits)]
    try:
        return subprocess.run(
            command,
            env={**os.environ, **environment},
            capture_output=True,
            text=True,
            timeout=seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return subprocess.CompletedProcess(command, HUNG, "", "hung")


BLOCK_RULE = 'definitions[f"b{number}"] = _definition({"b": number}, _nothing)'
WARM_UP = "        self._warm_up()\n"
SELF_TEST = "        self._self_test(plan)\n"
WIDTH = 'if len(block["literals"]) > BLOCK_LITERALS:'

GUARDS = [
    Guard(
        "no session is deleted before an action was started in it",
        "            self._assert_sentinel(sid)\n            for stratum",
        "            for stratum",
        """
engine = Engine(PLAN)
for _ in range(300):
    try:
        engine.run([2])  # known, and nothing follows from it
    except Exception as error:
        assert "NotHandled" in type(error).__name__, error
print("right")
""",
        crashed,
        besides=((BLOCK_RULE, "pass"), (WARM_UP, ""), (SELF_TEST, "")),
        dirty=True,
    ),
    Guard(
        "every fact of a batch meets some rule",
        BLOCK_RULE,
        "pass",
        """
found = Engine(PLAN).run([0, 2, 6])  # nothing follows from 6, and it stands in its own block
print("right" if found == [100, 102] else found)
""",
        said("MessageNotHandledException"),
    ),
    Guard(
        "no timer thread of the host runs actions of ours",
        "    def _run(self) -> None:\n        return\n",
        "",
        """
# the host's timers pulse a hundred times as often, so that the fault need not be waited for
Timer = threading.Timer
threading.Timer = lambda seconds, *rest: Timer(seconds / 100, *rest)
sys.setswitchinterval(1e-5)
literals = list(range(0, 40, 2))
engine = Engine({"strata": [[{"id": 0, "literals": literals,
                              "rules": [[1000 + code, code] for code in literals]}]]})
started = time.monotonic()
while time.monotonic() - started < 15:
    found = engine.run(literals)
    if found != [1000 + code for code in literals]:
        print("an answer lacks", 20 - len(found), "outcomes")
        os._exit(0)
print("right")
os._exit(0)
""",
        crashed_or_said("an answer lacks"),
    ),
    Guard(
        "no batch is empty",
        "                if facts:",
        "                if True:",
        """
print("right" if Engine(PLAN).run([]) == [] else "wrong")
""",
        crashed,
    ),
    Guard(
        "a block that is too rich is found when it is built",
        SELF_TEST,
        "",
        """
def make():
    global engine
    engine = Engine(wide(70))
try:
    make()
except Exception:
    print("right")
    sys.exit()
try:
    engine.run(range(0, 140, 2))
except Exception as error:
    print("in service:", error)
""",
        said("in service:", "error code: 303"),
        besides=((WIDTH, "if False:"),),
    ),
    Guard(
        "no fact is wide",
        WIDTH,
        "if False:",
        "refused(lambda: Engine(wide(260)))\n",
        crashed,
    ),
    Guard(
        "no level has more tests than the engine can order",
        "if len(blocks) > MOST_BLOCKS:",
        "if False:",
        """
refused(lambda: Engine({"strata": [[
    {"id": k, "literals": [2 * k], "rules": [[100_000 + 2 * k, 2 * k]]} for k in range(520)]]}))
""",
        hung,
        seconds=4,  # with its guard this takes a tenth of a second
    ),
    Guard(
        "no ruleset has more rules than the engine takes",
        "if len(definitions) > MOST_RULES:",
        "if False:",
        """
def block(number):
    codes = [100 * number + 2 * k for k in range(50)]
    pairs = [(codes[k % 50], codes[(k + 1 + k // 50) % 50]) for k in range(103)]
    return {"id": number, "literals": codes,
            "rules": [[100_000 + 2000 * number + 2 * k, ["and", *pair]]
                      for k, pair in enumerate(pairs)]}
refused(lambda: Engine({"strata": [[block(number) for number in range(40)]]}))
""",
        said("error code: 106"),
    ),
    Guard(
        "only the number 1 is sent",
        "(property_name(code), 1)",
        "(property_name(code), 1e999 if code == 6 else 1)",
        """
found = Engine(PLAN).run([0, 2, 6, 8])
print("right" if found == [100, 102, 104, 106] else f"no error, and only {found}")
""",
        said("no error, and only [100, 102]"),
        besides=((SELF_TEST, ""),),
    ),
    Guard(
        "two sessions never share their facts",
        "        require_distinct(SESSIONS)\n",
        "",
        """
one, other = "patient-7edb1a", "patient-a9aa88"
assert module.fnv32(one) == module.fnv32(other)
module.SESSIONS = (one, other)
def make():
    global engine
    engine = Engine(PLAN)
refused(make)
host = engine._host
for sid, literals, name in ((one, [0], "a"), (other, [2], "b")):
    engine._assert_sentinel(sid) if sid == one else None
    host.assert_fact("rulebook", module.fact_of(sid, 0, literals) | {"id": name})
print("facts of", one, "are seen from", other, len(host.get_facts("rulebook", other)))
""",
        said("are seen from patient-a9aa88 3"),
    ),
    Guard(
        "a rule never fires on another literal",
        '        require_distinct(sorted({*names, "b", "id", "sid"}))\n',
        "",
        """
assert module.fnv32("l48") == module.fnv32("l320753")
plan = {"strata": [[{"id": 0, "literals": [48, 320753, 2], "rules": [[1000, ["and", 48, 2]]]}]]}
def make():
    global engine
    engine = Engine(plan)
refused(make)
print("fired on the wrong literal:", engine.run([320753, 2]))
""",
        said("fired on the wrong literal: [1000]"),
        besides=((SELF_TEST, ""),),
    ),
    Guard(
        "two facts of a batch never pass for one",
        '        require_distinct(["sentinel", *(fact_id(block["id"]) for block in blocks)])\n',
        "",
        """
assert module.fnv32("f264602") == module.fnv32("f6059")
plan = {"strata": [[{"id": 264602, "literals": [0], "rules": [[1000, 0]]},
                    {"id": 6059, "literals": [2], "rules": [[1002, 2]]}]]}
def make():
    global engine
    engine = Engine(plan)
refused(make)
engine.run([0, 2])
""",
        said("MessageObservedException"),
    ),
    Guard(
        "what a consequent raises is raised",
        'if state and "exception" in state:',
        "if False:",
        """
fire = Engine._fire
def broken(self, outcome):
    def consequent(closure):
        raise KeyError("broken")
    return consequent if outcome == 102 else fire(self, outcome)
Engine._fire = broken
try:
    print("no error, and only", Engine(PLAN).run([0, 2]))
except RuntimeError:
    print("right")
""",
        said("no error, and only [100]"),
        besides=((SELF_TEST, ""),),
    ),
    Guard(
        "a session is deleted whatever happened in it",
        "            self._host.delete_state(_RULESET, sid)\n        return outcomes",
        "            pass\n        return outcomes",
        """
engine = Engine(PLAN)
found = [engine.run([0, 2]) for _ in range(20)]
print("right" if found == [[100, 102]] * 20 else found)
""",
        said("MessageObservedException"),
        besides=((WARM_UP, ""), (SELF_TEST, "")),
    ),
    Guard(
        "one request at a time reads what fired",
        "        with self._lock:\n            return sorted(",
        "        if True:\n            return sorted(",
        """
sys.setswitchinterval(1e-6)
engine = Engine(PLAN)
wrong = []
def work(literals, expected):
    for _ in range(400):
        try:
            if engine.run(literals) != expected:
                wrong.append(literals)
        except Exception as error:
            wrong.append(error)
pairs = [([0, 2, 6, 8], [100, 102, 104, 106]), ([4], [102]), ([2], []), ([6, 8], [104])]
threads = [threading.Thread(target=work, args=pair) for pair in pairs]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
print(f"{len(wrong)} wrong answers" if wrong else "right")
os._exit(0)
""",
        crashed_or_said("wrong answers"),
    ),
    Guard(
        "a dropped release gives its memory back",
        "            durable_rules_engine.delete_ruleset(ruleset._handle)\n",
        "",
        """
def build():
    engine = Engine(wide(50))
    engine.run(range(0, 100, 2))
    engine.close()
for _ in range(3):
    build()
before = resident()
for _ in range(20):
    build()
grown = resident() - before
print("right" if grown < 5 else f"grown by {grown:.0f} MB")
""",
        said("grown by"),
    ),
    Guard(
        "another version of the engine is refused",
        "    if found != PINNED:",
        "    if False:",
        """
module.PINNED = "2.0.29"
try:
    module.require_guarded_process()
except RuntimeError:
    print("right")
else:
    print("an engine nobody measured was started")
""",
        said("nobody measured"),
    ),
    Guard(
        "a host that starts threads is refused",
        "    if threading.active_count() != 1:",
        "    if False:",
        """
del QuietHost._run
try:
    module.require_guarded_process()
except RuntimeError:
    print("right")
else:
    print("started beside", threading.active_count() - 1, "threads")
os._exit(0)
""",
        said("started beside 2 threads"),
    ),
]


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: guard.name)
def test_without_its_guard_the_fault_is_there(guard):
    done = guard.run(guarded=False)
    assert guard.fault(done), (done.returncode, done.stdout, done.stderr[-400:])
    assert "right" not in done.stdout


@pytest.mark.parametrize("guard", GUARDS, ids=lambda guard: guard.name)
def test_with_its_guard_the_fault_is_gone(guard):
    done = guard.run(guarded=True)
    assert (done.returncode, done.stdout.strip()) == (0, "right"), done.stderr[-400:]


def test_every_guard_that_the_engine_has_is_in_the_table():
    """What raises at build, the locks and the `finally`s of engine.py are the guards."""
    text = Path(engine_module.__file__).read_text()
    listed = " ".join(guard.text for guard in GUARDS)
    for line in text.splitlines():
        bare = line.strip()
        if bare.startswith(("require_distinct(", "if len(", "if found", "if threading.")):
            assert bare in listed, bare


# -- what the compiler does so that the engine can bear a rule ------------------------


def test_a_rule_with_many_groups_is_taken_apart_because_the_engine_refuses_it(engine, monkeypatch):
    """More than 15 and/or groups in one rule: error 113."""
    pairs = [All((Is(f"sign-{k}", "present"), Is(f"sign-{k + 1}", "present"))) for k in range(20)]
    build(engine, AnyOf(tuple(pairs)), present=("sign-7", "sign-8"))
    monkeypatch.setattr(compile_module, "RULE_GROUPS", 1000)
    with pytest.raises(EngineBuildError, match="error code: 113"):
        build(engine, AnyOf(tuple(pairs)), present=("sign-7", "sign-8"))


def test_a_rule_with_many_literals_is_taken_apart_because_the_engine_loses_the_fact(
    engine, monkeypatch
):
    """One fact that meets more than 64 sibling tests: error 303, here found by the self-test."""
    signs = tuple(Is(f"sign-{k}", "present") for k in range(80))
    build(engine, AnyOf(signs), present=("sign-79",))
    monkeypatch.setattr(compile_module, "BLOCK_LITERALS", 1000)
    with pytest.raises(EngineBuildError, match="80 literals"):
        build(engine, AnyOf(signs), present=("sign-79",))


def build(engine, tree, present):
    """Build a release of one rule and assert that it is met by these signs alone."""
    sign = next(iter(definitions(Seeded(0), 1).values()))
    known = {f"sign-{k}": replace(sign, id=f"sign-{k}") for k in range(100)}
    inference = Inference(rulebook_of(known, [rule("rich.rule", tree)]), engine)
    assert inference.truths(dict.fromkeys(present, "present")) == {"rich.rule": Truth.MET}
    assert inference.truths({}) == {"rich.rule": Truth.UNKNOWN}
    assert inference.truths(dict.fromkeys(known, "absent")) == {"rich.rule": Truth.NOT_MET}
    inference.close()
