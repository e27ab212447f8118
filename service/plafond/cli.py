"""plafond at the command line: assess a document, read and check the knowledge, serve, release.

The only place besides web.py that reads a clock. Every error of ours becomes a message that says
where, what was found, what was expected and what to do, and an exit code; never a traceback.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from dataclasses import asdict
from datetime import UTC, date, datetime, time
from io import TextIOWrapper
from pathlib import Path
from typing import Any, BinaryIO

import click
import uuid_utils
from rich.console import RenderableType

from plafond import errors
from plafond.governance.coverage import coverage as coverage_of
from plafond.governance.drawing import picture
from plafond.governance.verify import verify as issues_of
from plafond.inference.crosscheck import EngineProcess
from plafond.intake.structured import MOST_BYTES, read_findings
from plafond.pipeline import assess as assess_findings
from plafond.pipeline import ready
from plafond.rulebook import (
    Rulebook,
    find_release,
    freeze,
    load_release,
    releases,
    require_directory,
    schemas,
    thaw,
)
from plafond.rulebook.rules import KINDS
from plafond.settings import read_settings
from plafond.views.answer import answer_bytes
from plafond.views.terminal import knowledge as pages
from plafond.views.terminal.layout import show
from plafond.views.terminal.page import page

DRAFT = "draft"

#: The most particular class of an error decides; every error has one.
EXIT_CODES: dict[type[errors.PlafondError], int] = {
    errors.KnowledgeError: 1,
    errors.DocumentError: 3,
    errors.ReleaseError: 4,
    errors.NotKnownError: 4,
    errors.EngineError: 5,
    errors.SettingsError: 6,
    errors.QuantityError: 3,
    errors.PlafondError: 1,
}
EPILOG = """\b
Example:
  plafond assess findings.json

\b
Exit codes:
  0  done
  1  the knowledge has errors, or something went wrong that has no code of its own
  2  wrong use of a command
  3  the document cannot be read
  4  no such release, rule, option or finding
  5  the engine gave no answer
  6  a setting makes no sense
"""


class _Group(click.Group):
    """Commands whose errors are shown as messages."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except errors.PlafondError as error:
            click.echo("\n".join(error_lines(error)), err=True)
            ctx.exit(exit_code(error))


def exit_code(error: errors.PlafondError) -> int:
    """Return the exit code of an error, by its most particular class."""
    return next(EXIT_CODES[kind] for kind in type(error).__mro__ if kind in EXIT_CODES)


def error_lines(error: errors.PlafondError) -> list[str]:
    """Return an error in lines: what, where, found, expected, and what to do."""
    if isinstance(error, errors.DocumentError):
        return _document_lines(error)
    parts = {
        "where": error.where,
        "found": error.found,
        "expected": error.expected,
        "to do": error.mend,
    }
    told = [f"  {label:<9} {said}" for label, said in parts.items() if said]
    return [f"Error: {error.message}", *told]


def _document_lines(error: errors.DocumentError) -> list[str]:
    number = len(error.faults)
    lines = [f"Error: the document cannot be read: {number} fault{'s' if number > 1 else ''}."]
    for fault in error.faults:
        lines.append(f"  {fault.pointer or '/'}: {fault.message}")
        guess = fault.expected.startswith("did you mean")
        if fault.expected:
            lines.append(f"    {'' if guess else 'expected '}{fault.expected}")
        if fault.nearest and not guess:
            lines.append(f"    nearest {', '.join(fault.nearest)}")
    if isinstance(error, errors.DocumentSyntaxError | errors.DocumentTooLargeError):
        return lines
    return [*lines, "  `plafond findings` lists what a document may hold."]


@click.group(
    name="plafond",
    cls=_Group,
    epilog=EPILOG,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="plafond")
def main() -> None:
    """Which keyhole procedures of the foot and ankle are supported for one patient, and why."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a name no old terminal can spell is no crash


def _example(line: str) -> str:
    return f"\b\nExample:\n  {line}"


def _release_option(command: Any) -> Any:
    return click.option(
        "--release",
        "name",
        metavar="R",
        help="A version, the start of a digest, a release file, or `draft` for the knowledge "
        "files as they are now. Default: the newest.",
    )(command)


# -- assess -------------------------------------------------------------------------------


@main.command(
    short_help="Assess one document of findings.",
    epilog=_example('echo \'{"left": {"giving-way": "present"}}\' | plafond assess -'),
)
@click.argument("file", type=click.File("rb"))
@click.option("--json", "as_json", is_flag=True, help="Print the canonical answer, not a page.")
@_release_option
@click.option("--at", help="The time to assess as of (ISO date or date-time). Default: now.")
@click.option("--all", "everything", is_flag=True, help="List also what nothing points at.")
@click.option("--full", is_flag=True, help="Condense nothing: all questions, whole cards.")
def assess(
    *, file: BinaryIO, as_json: bool, name: str | None, at: str | None, everything: bool, full: bool
) -> None:
    """Assess the findings in FILE (native JSON; - reads standard input)."""
    moment = _moment(at)
    rulebook = _rulebook(name)
    findings = read_findings(file.read(MOST_BYTES + 1), rulebook.vocabulary)
    engine = EngineProcess()
    try:
        answer = assess_findings(
            findings,
            ready(rulebook, engine),
            assessment=str(uuid_utils.uuid7()),
            at=moment,
            everything=everything,
        )
    finally:
        engine.stop()
    if as_json:
        _write_bytes(answer_bytes(answer))
    else:
        drafted = _wanted(name) == DRAFT
        note = "A draft: the knowledge files as they are now, not a release." if drafted else ""
        _show(page(answer, rulebook, full=full, note=note))


def _moment(text: str | None) -> str:
    """Return a moment in UTC to the second; a date means its first moment, no zone means UTC."""
    try:
        if text is None:
            moment = datetime.now(UTC)
        elif len(text) <= 10:
            moment = datetime.combine(date.fromisoformat(text), time(tzinfo=UTC))
        else:
            moment = datetime.fromisoformat(text)
        moment = moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise click.BadParameter(
            f"{text!r} is not a date or date-time, such as 2026-11-25 or 2026-11-25T09:00:00Z",
            param_hint="--at",
        ) from error
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def _wanted(name: str | None) -> str:
    """Return the release asked for: by the option, else by the setting, else the newest ("")."""
    return read_settings().release if name is None else name


def _rulebook(name: str | None) -> Rulebook:
    """Return the rulebook of a release by version, digest or file, or of the files (`draft`)."""
    folder, wanted = read_settings().knowledge, _wanted(name)
    if wanted == DRAFT:
        return freeze(folder)[0]
    if wanted.endswith(".json"):
        try:
            return thaw(Path(wanted).read_bytes(), wanted)
        except OSError as error:
            raise errors.ReleaseError(
                "the release file cannot be read", where=wanted, found=error.strerror or str(error)
            ) from error
    return load_release(find_release(folder, wanted))


def _show(renderable: RenderableType) -> None:
    show(renderable, sys.stdout)


def _write_bytes(payload: bytes) -> None:
    click.echo(payload.rstrip(b"\n"))


def _write_json(data: Any) -> None:
    _write_bytes(json.dumps(data, ensure_ascii=False, indent=2).encode())


# -- the knowledge ------------------------------------------------------------------------


@main.command(
    short_help="Check the knowledge files and run every case.",
    epilog=_example("plafond verify --strict"),
)
@click.option(
    "--knowledge",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The folder to check. Default: PLAFOND_KNOWLEDGE, else the project's own.",
)
@click.option("--strict", is_flag=True, help="Fail on warnings too.")
@click.option(
    "--thorough", is_flag=True, help="Also change every rule on purpose: do its cases see it?"
)
def verify(knowledge: Path | None, strict: bool, thorough: bool) -> None:
    """Check the knowledge files, run every case, and name each issue with file and line."""
    folder = knowledge or read_settings().knowledge
    issues = issues_of(folder, date.today(), thorough=thorough)
    for line in pages.issue_lines(issues):
        click.echo(line)
    grave = ("error", "warning") if strict else ("error",)
    click.get_current_context().exit(any(issue.severity in grave for issue in issues))


@main.command(
    short_help="List the rules, or show one in full.",
    epilog=_example("plafond rules --kind red-flag"),
)
@click.argument("wanted", metavar="[ID]", required=False)
@click.option("--kind", type=click.Choice(KINDS), help="Only rules of this kind.")
@click.option("--json", "as_json", is_flag=True, help="Print data, not a page.")
@_release_option
def rules(wanted: str | None, kind: str | None, as_json: bool, name: str | None) -> None:
    """List the rules of a release, or show the rule ID with its sources and cases."""
    rulebook = _rulebook(name)
    if wanted is not None:
        rule = rulebook.rule(wanted)
        if as_json:
            _write_json({**rule.data, "digest": rule.digest})
        else:
            _show(pages.rule_page(rulebook, rule))
        return
    chosen = rulebook.of_kind(kind) if kind else tuple(rulebook.rules.values())
    if as_json:
        _write_json([pages.rule_line(rule) for rule in chosen])
    else:
        _show(pages.rules_page(chosen))


@main.command(
    short_help="Show what the rules cover, option by option.",
    epilog=_example("plafond coverage --svg map.svg"),
)
@click.option(
    "--svg",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the map as a picture to this file.",
)
@click.option("--json", "as_json", is_flag=True, help="Print data, not a page.")
@_release_option
def coverage(svg: Path | None, as_json: bool, name: str | None) -> None:
    """Show, for each option, its rules by kind, sources, cases, best grade, weakest confidence."""
    covered = coverage_of(_rulebook(name))
    if svg is not None:
        svg.write_text(picture(covered), encoding="utf-8")
        click.echo(str(svg))
    elif as_json:
        _write_json(asdict(covered))
    else:
        _show(pages.coverage_page(covered))


@main.command(
    short_help="List the options, or show one in full.",
    epilog=_example("plafond options ankle-lateral-ligament-repair"),
)
@click.argument("wanted", metavar="[ID]", required=False)
@_release_option
def options(wanted: str | None, name: str | None) -> None:
    """List the options of a release, or show the option ID with its approach card and rules."""
    rulebook = _rulebook(name)
    if wanted is None:
        _show(pages.options_page(list(rulebook.options.values())))
    else:
        _show(pages.option_page(rulebook, rulebook.option(wanted)))


@main.command(
    short_help="List what a document may hold.",
    epilog=_example("plafond findings talar-tilt-angle"),
)
@click.argument("wanted", metavar="[ID]", required=False)
@_release_option
def findings(wanted: str | None, name: str | None) -> None:
    """List the findings a document may hold, or show the finding ID and the rules that test it."""
    rulebook = _rulebook(name)
    if wanted is None:
        _show(pages.findings_page(rulebook.vocabulary))
    else:
        _show(pages.finding_page(rulebook, rulebook.vocabulary[wanted]))


# -- releases and exports -----------------------------------------------------------------


@main.group()
def release() -> None:
    """Make releases, frozen copies of the knowledge, and list them."""


@release.command(epilog=_example("plafond release build"))
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), help="Write it there.")
@click.option("--replace", is_flag=True, help="Replace another release of the same version.")
def build(out: Path | None, replace: bool) -> None:
    """Freeze the knowledge files as the release their rulebook.yaml names."""
    folder = read_settings().knowledge
    issues = issues_of(folder, date.today())
    if any(issue.severity == "error" for issue in issues):
        raise errors.KnowledgeError(issues)
    rulebook, payload = freeze(folder)
    target = out or folder / "releases" / f"{rulebook.version}.json"
    if target.exists() and target.read_bytes() != payload and not replace:
        raise errors.ReleaseError(
            f"another release {rulebook.version} is already there",
            where=str(target),
            expected="a version that was never released",
            mend="raise `version` in rulebook.yaml; or --replace it, if no answer names it yet",
        )
    _write_file(target, payload)
    click.echo(f"{rulebook.version}  {rulebook.digest}")
    click.echo(f"{pages.release_counts(rulebook)}; {len(payload)} bytes in {target}")


@release.command(name="list", epilog=_example("plafond release list"))
def list_() -> None:
    """List the releases there are, newest last."""
    folder = read_settings().knowledge
    find_release(folder, "")
    for line in pages.release_lines(releases(folder)):
        click.echo(line)


@main.command(
    short_help="Write the JSON Schemas of the knowledge files.", epilog=_example("plafond schema")
)
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), help="The folder.")
def schema(out: Path | None) -> None:
    """Write the JSON Schemas of the knowledge files, so that an editor completes them."""
    folder = read_settings().knowledge
    target = out or folder / "schema"
    for name, data in schemas(require_directory(folder).vocabulary).items():
        text = json.dumps(data, ensure_ascii=False, indent=2)
        _write_file(target / f"{name}.schema.json", f"{text}\n".encode())
        click.echo(target / f"{name}.schema.json")


@main.command(epilog=_example("plafond openapi"))
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("openapi/openapi.json"),
    show_default=True,
)
def openapi(out: Path) -> None:
    """Write the OpenAPI description of the service."""
    from plafond.web import export_openapi  # noqa: PLC0415 -- only these commands need the web

    _write_file(out, export_openapi())
    click.echo(out)


def _write_file(target: Path, payload: bytes) -> None:
    """Write a file in one step, so that no reader ever sees half of it."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
        beside = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(payload)
            beside.chmod(0o644)
            beside.replace(target)
        finally:
            beside.unlink(missing_ok=True)
    except OSError as error:
        raise click.FileError(str(target), error.strerror or str(error)) from error


# -- serve --------------------------------------------------------------------------------


@main.command(epilog=_example("plafond serve --port 8321"))
@click.option("--host", help="A loopback address. Default: PLAFOND_HOST, else 127.0.0.1.")
@click.option("--port", type=click.IntRange(0, 65535), help="Default: PLAFOND_PORT, else 8321.")
def serve(host: str | None, port: int | None) -> None:
    """Serve the REST interface on this machine only."""
    import uvicorn  # noqa: PLC0415 -- only these commands need the web

    from plafond.web import create_app, require_loopback  # noqa: PLC0415

    settings = read_settings()
    address = require_loopback(settings.host if host is None else host)
    load_release(find_release(settings.knowledge, settings.release))  # better now than half started
    uvicorn.run(create_app(settings), host=address, port=settings.port if port is None else port)
