"""Does each command do what its help says, and does every error end in a message and its code?"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import urllib.request
import uuid
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from plafond import errors
from plafond.cli import EPILOG, EXIT_CODES, error_lines, exit_code, main
from plafond.intake.structured import read_findings
from plafond.pipeline import assess
from plafond.rulebook import freeze, schemas
from plafond.settings import default_knowledge
from plafond.views.answer import answer_bytes

UNSTABLE = {
    "person": {"age": "27 a"},
    "left": {
        "giving-way": "present",
        "anterior-drawer": "positive",
        "symptom-duration": "8 mo",
        "rehabilitation-duration": "12 wk",
    },
}
RULE = "ankle.lateral-ligament.arthroscopic-repair.indicated"
RULE_FILE = f"rules/{RULE.replace('.', '/')}.yaml"


def plafond(*arguments: object, knowledge: Path, document: object = None, **environment: str):
    """Run a command in this process; what it reads, where its knowledge lies, its environment."""
    given = document if isinstance(document, str | bytes | None) else json.dumps(document)
    variables = {"PLAFOND_KNOWLEDGE": str(knowledge), "COLUMNS": "80", **environment}
    return CliRunner().invoke(main, list(map(str, arguments)), input=given, env=variables)


def copy(folder: Path) -> None:
    left_out = shutil.ignore_patterns("releases", "schema")
    shutil.copytree(default_knowledge(), folder, ignore=left_out)


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def draft(tmp_path) -> Path:
    """A copy of the knowledge that has no release yet, and of the rules only a few."""
    folder = tmp_path / "knowledge"
    copy(folder)
    for path in folder.glob("rules/**/*.yaml"):
        needed = "kind: derivation" in path.read_text() or "lateral-ligament" in path.parts
        if not needed:
            path.unlink()
    return folder


@pytest.fixture(scope="session")
def released(tmp_path_factory) -> Path:
    """A copy of the knowledge with its release; tests only read it."""
    folder = tmp_path_factory.mktemp("released") / "knowledge"
    copy(folder)
    outcome = plafond("release", "build", knowledge=folder)
    assert outcome.exit_code == 0, outcome.output
    return folder


def edit(folder: Path, file: str, before: str, after: str) -> None:
    path = folder / file
    text = path.read_text()
    assert before in text
    path.write_text(text.replace(before, after, 1))


# -- assess ---------------------------------------------------------------------------------


def test_a_document_is_assessed_from_a_file_and_from_standard_input(released, tmp_path):
    file = tmp_path / "findings.json"
    file.write_text(json.dumps(UNSTABLE))
    at = ("--at", "2026-11-25")
    from_file = plafond("assess", file, *at, knowledge=released)
    from_pipe = plafond("assess", "-", *at, knowledge=released, document=UNSTABLE)
    assert from_file.exit_code == from_pipe.exit_code == 0
    assert from_file.stdout == from_pipe.stdout
    assert "INDICATED\n  Arthroscopic lateral ligament repair" in from_file.stdout
    assert not from_file.stderr


def test_json_is_the_canonical_answer(released, release):
    outcome = plafond(
        "assess", "-", "--json", "--at", "2026-11-25", knowledge=released, document=UNSTABLE
    )
    answer = json.loads(outcome.stdout)
    findings = read_findings(json.dumps(UNSTABLE).encode(), release.rulebook.vocabulary)
    again = assess(findings, release, assessment=answer["assessment"], at="2026-11-25T00:00:00Z")
    assert outcome.stdout_bytes == answer_bytes(again) + b"\n"
    assert uuid.UUID(answer["assessment"]).version == 7


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("2026-11-25", "2026-11-25T00:00:00Z"),
        ("2026-11-25T09:30", "2026-11-25T09:30:00Z"),
        ("2026-11-25T09:30:15Z", "2026-11-25T09:30:15Z"),
        ("2026-11-25T01:30:00+02:00", "2026-11-24T23:30:00Z"),
    ],
)
def test_the_time_is_kept_in_utc(given, kept, released):
    outcome = plafond("assess", "-", "--json", "--at", given, knowledge=released, document={})
    assert json.loads(outcome.stdout)["at"] == kept


def test_without_a_time_it_is_now(released):
    outcome = plafond("assess", "-", "--json", knowledge=released, document={})
    assert re.fullmatch(r"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ", json.loads(outcome.stdout)["at"])


@pytest.mark.parametrize(
    "given", ["yesterday", "2026-13-01", "25/11/2026", "2026-11-25T25:00", "0001-01-01T00:00+23:00"]
)
def test_a_time_that_is_none_is_wrong_use(given, released):
    outcome = plafond("assess", "-", "--at", given, knowledge=released, document={})
    assert outcome.exit_code == 2
    assert "2026-11-25T09:00:00Z" in outcome.stderr


def test_all_lists_what_nothing_points_at(released):
    short = plafond("assess", "-", "--json", knowledge=released, document={})
    long = plafond("assess", "-", "--json", "--all", knowledge=released, document={})
    assert not json.loads(short.stdout)["sides"]["unspecified"]["options"]
    assert len(json.loads(long.stdout)["sides"]["unspecified"]["options"]) > 10


def test_a_release_goes_by_version_digest_file_and_draft(released):
    file = next((released / "releases").glob("*.json"))
    rulebook, _ = freeze(released)
    digest = rulebook.digest
    names = ["", file.stem, digest, digest.removeprefix("sha256:")[:8], str(file), "draft"]
    for name in names:
        outcome = plafond(
            "assess", "-", "--json", "--release", name, knowledge=released, document={}
        )
        assert outcome.exit_code == 0, outcome.stderr
        assert json.loads(outcome.stdout)["release"]["digest"] == digest


def test_the_newest_release_is_the_default_and_the_setting_overrules_it(draft):
    plafond("release", "build", knowledge=draft)
    first, _ = freeze(draft)
    edit(draft, "rulebook.yaml", f"version: {first.version}", "version: 2999.10.0")
    plafond("release", "build", knowledge=draft)
    newest = plafond("assess", "-", "--json", knowledge=draft, document={})
    older = plafond(
        "assess", "-", "--json", knowledge=draft, document={}, PLAFOND_RELEASE=first.version
    )
    assert json.loads(newest.stdout)["release"]["version"] == "2999.10.0"
    assert json.loads(older.stdout)["release"]["version"] == first.version
    listed = plafond("release", "list", knowledge=draft).stdout.splitlines()
    assert [line.split()[0] for line in listed] == [first.version, "2999.10.0"]
    assert listed[-1].endswith("(newest)")


def test_a_draft_is_said_to_be_one(released):
    note = "A draft: the knowledge files as they are now, not a release."
    drafted = plafond("assess", "-", "--release", "draft", knowledge=released, document={})
    assert note in drafted.stdout
    by_setting = plafond("assess", "-", knowledge=released, document={}, PLAFOND_RELEASE="draft")
    assert note in by_setting.stdout
    assert note not in plafond("assess", "-", knowledge=released, document={}).stdout


# -- errors ---------------------------------------------------------------------------------


def test_the_faults_of_a_document_are_all_listed_where_they_are(released):
    document = {
        "left": {"givng-way": "present", "talar-tilt-angle": "90 deg"},
        "person": {"age": "27"},
    }
    outcome = plafond("assess", "-", knowledge=released, document=document)
    assert outcome.exit_code == 3
    assert not outcome.stdout
    said = flat(outcome.stderr)
    assert "cannot be read: 3 faults" in said
    assert "/left/givng-way: 'givng-way' is not known here did you mean giving-way" in said
    assert "/left/talar-tilt-angle: '90 deg' is not plausible" in said
    assert "expected from 0 to 45 deg" in said
    assert "/person/age: a number needs its unit" in said
    assert "`plafond findings`" in said


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ("not json", "not JSON"),
        ("", "not JSON"),
        ("[]", "not an object"),
        ('{"left": {}, "left": {}}', "twice"),
        ('{"left": {"age": 1e400}}', "belongs under person"),
        ('{"person": {"age": NaN}}', "not a number"),
        (b"\xff\xfe", "not UTF-8"),
        ("[" * 100, "nested too deeply"),
        (b" " * 300_000, "too large"),
        ('{"reference": "\\u202e"}', "hidden character"),
    ],
    ids=[
        "text", "nothing", "a list", "a key twice", "1e400", "NaN", "not UTF-8", "deep", "large",
        "bidi",
    ],
)  # fmt: skip
def test_hostile_input_is_a_message_never_a_traceback(document, said, released):
    outcome = plafond("assess", "-", knowledge=released, document=document)
    assert outcome.exit_code == 3
    assert said in outcome.stderr
    assert "Traceback" not in outcome.output


def test_a_silent_engine_is_no_answer(released, monkeypatch):
    """The engine's process is started with this interpreter; one that ends at once is dead."""
    monkeypatch.setattr(sys, "executable", "/bin/false")
    outcome = plafond("assess", "-", knowledge=released, document={})
    assert outcome.exit_code == 5
    assert not outcome.stdout
    assert outcome.stderr.startswith("Error: the engine gave no answer")


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("assess", "-", "--release", "1999.1.0"), 4, "no release goes by '1999.1.0'"),
        (("assess", "-", "--release", "nowhere.json"), 4, "release file cannot be read"),
        (("rules", "ankle.lateral-ligamnet.arthroscopic-repair.indicated"), 4, f"mean {RULE}"),
        (("findings", "givng-way"), 4, "did you mean giving-way"),
        (("options", "ankle-athroscopic-fusion"), 4, "ankle-arthroscopic-fusion"),
        (("assess",), 2, "Missing argument 'FILE'"),
        (("assess", "no/such/file.json"), 2, "No such file"),
        (("rules", "--kind", "advice"), 2, "'advice' is not one of"),
        (("verify", "--knowledge", "no/such/folder"), 2, "does not exist"),
        (("serve", "--host", "0.0.0.0"), 6, "callers cannot be authenticated yet"),
        (("serve", "--port", "70000"), 2, "70000 is not in the range"),
    ],
)
def test_an_error_has_its_message_and_its_code(arguments, code, said, released):
    outcome = plafond(*arguments, knowledge=released, document={})
    assert outcome.exit_code == code, outcome.output
    assert said in flat(outcome.stderr)
    assert not outcome.stdout


def test_a_setting_without_sense_is_named(released):
    outcome = plafond("assess", "-", knowledge=released, document={}, PLAFOND_PORT="many")
    assert outcome.exit_code == 6
    assert "PLAFOND_PORT" in outcome.stderr


@pytest.mark.parametrize("command", [("assess", "-"), ("rules",), ("release", "list"), ("serve",)])
def test_without_a_release_the_way_to_one_is_said(command, draft):
    outcome = plafond(*command, knowledge=draft, document={})
    assert outcome.exit_code == 4
    assert "there is no release yet" in outcome.stderr
    assert "`plafond release build`" in outcome.stderr


def test_broken_knowledge_cannot_be_assessed_with(draft):
    edit(draft, RULE_FILE, "kind: indication", "kind: indicatoin")
    outcome = plafond("assess", "-", "--release", "draft", knowledge=draft, document={})
    assert outcome.exit_code == 1
    assert re.search(rf"{RULE_FILE}:\d+: error: 'indicatoin'", outcome.stderr)


def every_error() -> list[type[errors.PlafondError]]:
    kinds = [one for one in vars(errors).values() if isinstance(one, type)]
    return [one for one in kinds if issubclass(one, errors.PlafondError)]


@pytest.mark.parametrize("kind", every_error(), ids=lambda kind: kind.__name__)
def test_every_error_has_a_documented_code(kind):
    documented = {int(code) for code in re.findall(r"^  (\d)  ", EPILOG, re.M)}
    code = exit_code(kind.__new__(kind))
    assert code in documented - {0}
    assert documented == {0, 2, *EXIT_CODES.values()}


def test_an_error_says_where_what_and_what_to_do():
    error = errors.SettingsError("no", where="here", found="a", expected="b", mend="do c")
    assert [flat(line) for line in error_lines(error)] == [
        "Error: no", "where here", "found a", "expected b", "to do do c",
    ]  # fmt: skip


# -- the knowledge --------------------------------------------------------------------------


def test_verify_counts_by_severity_and_passes_clean_knowledge(released):
    outcome = plafond("verify", knowledge=released)
    assert outcome.exit_code == 0
    *issues, counts = outcome.stdout.splitlines()
    assert all(re.search(r"\.yaml:\d+: note: ", line) for line in issues)
    assert counts == f"0 errors, 0 warnings, {len(issues)} notes"


def test_verify_names_file_and_line_and_fails(draft):
    edit(draft, RULE_FILE, "expect: met", "expect: unknown")
    line = (draft / RULE_FILE).read_text().split("expect: unknown")[0].count("\n") + 1
    outcome = plafond("verify", "--knowledge", draft, knowledge=Path("elsewhere"))
    assert outcome.exit_code == 1
    found = re.search(
        rf"{RULE_FILE}:(\d+): error: the case .* gives met, not unknown", outcome.stdout
    )
    assert found
    assert line - 8 <= int(found[1]) <= line
    assert "1 error, " in outcome.stdout


def test_strict_fails_on_a_warning_too(draft, released):
    edit(draft, RULE_FILE, "next: 2027-11-25", "next: 2020-01-01")
    assert plafond("verify", knowledge=draft).exit_code == 0
    strict = plafond("verify", "--strict", knowledge=draft)
    assert plafond("verify", "--strict", knowledge=released).exit_code == 0
    assert strict.exit_code == 1
    assert "warning: its review was due on 2020-01-01" in strict.stdout


def test_rules_lists_every_rule_or_those_of_a_kind(released, rulebook):
    everything = plafond("rules", knowledge=released).stdout
    flags = plafond("rules", "--kind", "red-flag", knowledge=released).stdout
    for rule in rulebook.rules.values():
        line = f"{rule.id} {rule.kind} v{rule.version}, {rule.confidence}: {rule.title}"
        assert line in flat(everything)
        assert (line in flat(flags)) == (rule.kind == "red-flag")


def test_rules_are_also_data(released, rulebook):
    listed = json.loads(plafond("rules", "--json", knowledge=released).stdout)
    assert [line["id"] for line in listed] == list(rulebook.rules)
    assert set(listed[0]) == {"id", "kind", "version", "confidence", "title"}
    rule = rulebook.rule(RULE)
    one = json.loads(plafond("rules", RULE, "--json", knowledge=released).stdout)
    assert one == {**rule.data, "digest": rule.digest}


def test_a_rule_is_shown_with_its_condition_sources_and_cases(released):
    text = plafond("rules", RULE, knowledge=released).stdout
    for said in (
        "Supports Arthroscopic lateral ligament repair",
        "all of:",
        "Length of supervised rehabilitation: at least 10 wk",
        "doi:10.1016/j.arthro.2009.05.001",
        "rehabilitation one day short: gives not-met",
    ):
        assert said in flat(text)


def test_a_case_that_gives_something_else_is_said_to(draft):
    edit(draft, RULE_FILE, "expect: met", "expect: unknown")
    text = plafond("rules", RULE, "--release", "draft", knowledge=draft).stdout
    assert "gives met, NOT unknown as expected" in flat(text)


def test_findings_and_options_are_listed_and_shown(released):
    assert "talar-tilt-angle quantity, each side, from 0 to 45 deg" in flat(
        plafond("findings", knowledge=released).stdout
    )
    assert "Units mmol/mol, %" in flat(plafond("findings", "hba1c", knowledge=released).stdout)
    listed = plafond("options", knowledge=released).stdout
    assert "ankle-functional-rehabilitation Supervised functional rehabilitation (not" in flat(
        listed
    )
    shown = plafond("options", "ankle-lateral-ligament-repair", knowledge=released).stdout
    assert f"Supported by - {RULE}" in flat(shown)


# -- releases and exports -------------------------------------------------------------------


def test_a_release_is_the_frozen_files_and_building_it_again_changes_nothing(draft):
    rulebook, payload = freeze(draft)
    first = plafond("release", "build", knowledge=draft)
    assert first.exit_code == 0
    file = draft / "releases" / f"{rulebook.version}.json"
    assert file.read_bytes() == payload
    assert f"{rulebook.version}  {rulebook.digest}" in first.stdout
    assert f"{len(rulebook.rules)} rules, " in first.stdout
    assert plafond("release", "build", knowledge=draft).exit_code == 0
    assert [path.name for path in file.parent.iterdir()] == [file.name], "nothing else is left"


def test_a_release_that_answers_may_name_is_not_written_over(draft):
    plafond("release", "build", knowledge=draft)
    file = next((draft / "releases").iterdir())
    before = file.read_bytes()
    edit(draft, "rulebook.yaml", "title: ", "title: Other ")
    refused = plafond("release", "build", knowledge=draft)
    assert refused.exit_code == 4
    assert "raise `version` in rulebook.yaml" in refused.stderr
    assert file.read_bytes() == before
    assert plafond("release", "build", "--replace", knowledge=draft).exit_code == 0
    assert file.read_bytes() == freeze(draft)[1] != before


def test_no_release_is_made_of_knowledge_with_errors(draft):
    edit(draft, RULE_FILE, "expect: met", "expect: unknown")
    outcome = plafond("release", "build", knowledge=draft)
    assert outcome.exit_code == 1
    assert "gives met, not unknown" in outcome.stderr
    assert not (draft / "releases").exists()


def test_a_release_may_be_written_elsewhere(draft, tmp_path):
    target = tmp_path / "deep" / "down" / "one.json"
    assert plafond("release", "build", "--out", target, knowledge=draft).exit_code == 0
    assert target.read_bytes() == freeze(draft)[1]
    assert not (draft / "releases").exists()


def test_a_file_that_cannot_be_written_is_a_message(draft, tmp_path):
    (tmp_path / "file").write_text("")
    target = tmp_path / "file" / "below.json"
    outcome = plafond("release", "build", "--out", target, knowledge=draft)
    assert outcome.exit_code == 1
    assert "Could not open file" in outcome.stderr


def test_the_schemas_are_written_as_the_loader_uses_them(draft, rulebook):
    assert plafond("schema", knowledge=draft).exit_code == 0
    expected = schemas(rulebook.vocabulary)
    written = {path.name: path.read_text() for path in (draft / "schema").iterdir()}
    assert set(written) == {f"{name}.schema.json" for name in expected}
    for name, data in expected.items():
        text = written[f"{name}.schema.json"]
        assert json.loads(text) == data
        assert text.endswith("}\n")


def test_the_description_of_the_service_is_written(released, tmp_path):
    target = tmp_path / "openapi" / "openapi.json"
    outcome = plafond("openapi", "--out", target, knowledge=released)
    assert outcome.exit_code == 0, outcome.stderr
    described = json.loads(target.read_bytes())
    assert described["openapi"].startswith("3.1")
    assert "/v1/assessments" in described["paths"]


def test_the_service_is_started_where_it_was_told_to(released, tmp_path):
    archive = f"sqlite:///{tmp_path / 'archive.db'}"
    environment = {**os.environ, "PLAFOND_KNOWLEDGE": str(released), "PLAFOND_ARCHIVE": archive}
    command = [sys.executable, "-c", "from plafond.cli import main; main()"]
    service = subprocess.Popen(
        [*command, "serve", "--host", "127.0.0.1", "--port", "0"],
        env=environment,
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
    )
    try:
        assert service.stderr is not None
        lines = iter(service.stderr.readline, "")
        address = next(
            found[1] for line in lines if (found := re.search(r"(http://\S+:\d+)", line))
        )
        with urllib.request.urlopen(f"{address}/healthz", timeout=10) as answer:
            assert answer.status == 200
    finally:
        service.terminate()
        service.communicate(timeout=30)


# -- the command itself ---------------------------------------------------------------------


def commands(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    for name, command in group.commands.items():
        nested = isinstance(command, click.Group)
        found += commands(command, (*path, name)) if nested else [(*path, name)]
    return found


@pytest.mark.parametrize("command", commands(main), ids=" ".join)
def test_every_command_has_help_with_an_example(command, released):
    outcome = plafond(*command, "--help", knowledge=released)
    assert outcome.exit_code == 0
    assert re.search(rf"Example:\n    .*plafond {' '.join(command)}", outcome.stdout)


def test_the_help_lists_the_exit_codes_and_the_version_is_told(released):
    helped = plafond("--help", knowledge=released).stdout
    for code in range(7):
        assert re.search(rf"^    {code}  \w", helped, re.M)
    assert re.fullmatch(
        r"plafond, version \d+\.\d+\.\d+\n", plafond("--version", knowledge=released).stdout
    )


def in_a_process(*arguments: str, knowledge: Path, given: bytes = b"", **environment: str):
    return subprocess.run(
        [sys.executable, "-c", "from plafond.cli import main; main()", *arguments],
        input=given,
        env={**os.environ, "PLAFOND_KNOWLEDGE": str(knowledge), **environment},
        capture_output=True,
        timeout=60,
        check=False,
    )


def test_a_real_process_pipes_a_page(released):
    document = {"left": {"hot-swollen-joint": "present", "joint-inflammation-duration": "2 d"}}
    outcome = in_a_process("assess", "-", knowledge=released, given=json.dumps(document).encode())
    assert outcome.returncode == 0, outcome.stderr
    assert outcome.stdout.startswith(b"ACT NOW: ")
    assert b"\x1b" not in outcome.stdout
    assert not outcome.stderr


def test_a_word_the_terminal_cannot_spell_is_no_crash(released):
    spelled = in_a_process("findings", "gaechter-stage", knowledge=released)
    assert "G\u00e4chter".encode() in spelled.stdout
    only_ascii = {"PYTHONIOENCODING": "ascii"}
    outcome = in_a_process("findings", "gaechter-stage", knowledge=released, **only_ascii)
    assert outcome.returncode == 0, outcome.stderr
    assert b"G?chter" in outcome.stdout


def test_a_real_process_ends_with_the_code_of_its_error(released):
    outcome = in_a_process("assess", "-", knowledge=released, given=b"{")
    assert outcome.returncode == 3
    assert b"Traceback" not in outcome.stderr
