"""Reads knowledge files, or a release made of them, into a rulebook.

Strict, and never at the first fault: every issue of every file is collected with its line. What
comes out has passed its schemas, and every id, unit and value in it exists.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from plafond.errors import Issue, KnowledgeError
from plafond.rulebook.building import Build, validator
from plafond.rulebook.conditions import Condition, Is, Parameter, clauses, read_condition
from plafond.rulebook.definitions import check_wordings, modifiers_in, vocabulary_of
from plafond.rulebook.rules import (
    Case,
    Complaint,
    Effect,
    Option,
    Rule,
    Rulebook,
    Scope,
    Target,
)
from plafond.rulebook.schema import (
    option_schema,
    rule_schema,
    rulebook_schema,
    source_schema,
)
from plafond.rulebook.strict_yaml import Source, escape, read_yaml
from plafond.vocabulary import Definition, Vocabulary, nearest

T = TypeVar("T")


@dataclass
class Knowledge:
    """The files of a rulebook as read, by kind, before anything is made of them."""

    rulebook: list[Source] = field(default_factory=list)
    vocabulary: list[Source] = field(default_factory=list)
    letters: list[Source] = field(default_factory=list)
    options: list[Source] = field(default_factory=list)
    sources: list[Source] = field(default_factory=list)
    rules: list[Source] = field(default_factory=list)


def load_directory(folder: Path) -> tuple[Rulebook | None, list[Issue]]:
    """Load the knowledge files under a folder; the rulebook is None where there are errors.

    Only active rules are in the rulebook; drafts and retired rules are checked all the same.
    """
    knowledge, issues = read_directory(folder)
    rulebook, more = assemble(knowledge)
    issues += more
    failed = any(issue.severity == "error" for issue in issues)
    return (None if failed else rulebook), issues


def require_directory(folder: Path) -> Rulebook:
    """Load the knowledge files under a folder; raises KnowledgeError with every issue."""
    rulebook, issues = load_directory(folder)
    if rulebook is None:
        raise KnowledgeError(issues)
    return rulebook


def read_directory(folder: Path) -> tuple[Knowledge, list[Issue]]:
    """Read every knowledge file under a folder, strictly, without looking into it yet."""
    knowledge = Knowledge()
    issues: list[Issue] = []
    kinds: list[tuple[list[Source], list[Path]]] = [
        (knowledge.rulebook, [folder / "rulebook.yaml"]),
        (knowledge.vocabulary, sorted(folder.glob("vocabulary/*.yaml"))),
        (knowledge.letters, sorted(folder.glob("letters/*.yaml"))),
        (knowledge.options, sorted(folder.glob("options/*.yaml"))),
        (knowledge.sources, sorted(folder.glob("sources/*.json"))),
        (knowledge.rules, sorted(folder.glob("rules/**/*.yaml"))),
    ]
    for sources, paths in kinds:
        for path in paths:
            source, found = _read_file(path, path.relative_to(folder).as_posix())
            issues += found
            if source is not None:
                sources.append(source)
    return knowledge, issues


def _read_file(path: Path, name: str) -> tuple[Source | None, list[Issue]]:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        return None, [Issue("error", name, 1, f"cannot be read: {error}")]
    return read_yaml(name, text)


def knowledge_of_bundle(bundle: Mapping[str, Any], name: str) -> Knowledge:
    """Return the files a release was made of, as if they had just been read."""

    def sources(key: str) -> list[Source]:
        return [
            Source(f"{name}#/{key}/{index}", data, {})
            for index, data in enumerate(bundle.get(key, ()))
        ]

    return Knowledge(
        [Source(name, dict(bundle["rulebook"]), {})],
        sources("vocabulary"),
        sources("letters"),
        sources("options"),
        [Source(f"{name}#/sources", list(bundle["sources"]), {})],
        sources("rules"),
    )


def assemble(knowledge: Knowledge, digest: str = "") -> tuple[Rulebook | None, list[Issue]]:
    """Make a rulebook of files that were read, with every issue that stands in the way."""
    build = Build()
    vocabulary = vocabulary_of(build, knowledge.vocabulary)
    modifiers = modifiers_in(build, knowledge.letters)
    check_wordings(build, knowledge.vocabulary, vocabulary, modifiers)
    sources = _sources(build, knowledge.sources)
    options = _options(build, knowledge.options, vocabulary, sources)
    rules = _rules(build, knowledge.rules, vocabulary, options, sources)
    head = _head(build, knowledge.rulebook, vocabulary)
    if any(issue.severity == "error" for issue in build.issues):
        return None, build.issues
    book = Rulebook(
        version=head["version"],
        title=head["title"],
        covers=head["covers"].strip(),
        notice=head["notice"].strip(),
        scope=Scope(head["scope"]["finding"], head["scope"]["statement"].strip()),
        complaints=tuple(
            Complaint(complaint["finding"], tuple(complaint["ask"]))
            for complaint in head["complaints"]
        ),
        vocabulary=vocabulary,
        options=options,
        sources=sources,
        rules={
            rule.id: rule
            for rule in sorted(rules, key=lambda rule: rule.id)
            if rule.status == "active"
        },
        digest=digest,
        modifiers=modifiers,
    )
    _check_whole(build, book, {source.data["id"]: source for source in knowledge.rules})
    failed = any(issue.severity == "error" for issue in build.issues)
    return (None if failed else book), build.issues


def _sources(build: Build, files: list[Source]) -> dict[str, Mapping[str, Any]]:
    schema = validator(source_schema())
    sources: dict[str, Mapping[str, Any]] = {}
    for source in files:
        if build.valid(source, schema):
            for index, item in enumerate(source.data):
                if item["id"] in sources:
                    build.complain(source, f"/{index}", f"{item['id']} stands twice")
                sources[item["id"]] = item
    return dict(sorted(sources.items()))


def _options(
    build: Build,
    files: list[Source],
    vocabulary: Vocabulary,
    sources: Mapping[str, Any],
) -> dict[str, Option]:
    schema = validator(option_schema(vocabulary))
    options: dict[str, Option] = {}
    known = {source.data.get("id") for source in files if isinstance(source.data, dict)}
    for source in files:
        if not build.valid(source, schema):
            continue
        data = source.data
        _check_path(build, source, f"options/{data['id']}.yaml")
        _check_cites(build, source, data, sources)
        for index, alternative in enumerate(data.get("alternatives", ())):
            if "option" in alternative and alternative["option"] not in known:
                pointer = f"/alternatives/{index}"
                build.complain(source, pointer, f"no option goes by {alternative['option']!r}")
        options[data["id"]] = Option(
            id=data["id"],
            title=data["title"],
            summary=data["summary"],
            traits=tuple(sorted(data["traits"])),
            raised_by=_raises(build, source, vocabulary, {}),
            alternatives=tuple(data.get("alternatives", ())),
            approach=data.get("approach", {}),
            data=data,
        )
    return dict(sorted(options.items()))


def _raises(
    build: Build, source: Source, vocabulary: Vocabulary, parameters: Mapping[str, Parameter]
) -> tuple[Condition, ...]:
    found = []
    for index, item in enumerate(source.data.get("raised_by", ())):
        condition = _condition(build, source, f"/raised_by/{index}", item, vocabulary, parameters)
        if condition is not None:
            found.append(condition)
    return tuple(found)


def _condition(  # noqa: PLR0917 -- one place, one value, one vocabulary
    build: Build,
    source: Source,
    pointer: str,
    data: Any,
    vocabulary: Vocabulary,
    parameters: Mapping[str, Parameter],
) -> Condition | None:
    return build.attempt(source, pointer, lambda: read_condition(data, vocabulary, parameters))


def _rules(
    build: Build,
    files: list[Source],
    vocabulary: Vocabulary,
    options: Mapping[str, Option],
    sources: Mapping[str, Any],
) -> list[Rule]:
    schema = validator(rule_schema(vocabulary))
    rules = []
    for source in files:
        if not build.valid(source, schema):
            continue
        data = source.data
        _check_path(build, source, f"rules/{data['id'].replace('.', '/')}.yaml")
        _check_cites(build, source, data, sources)
        for name in _targets(data["then"]):
            if name not in options:
                build.complain(source, "/then", f"no option goes by {name!r}")
        parameters = {
            name: Parameter(name, str(item["value"]), item.get("cites", ""), item["confidence"])
            for name, item in data.get("parameters", {}).items()
        }
        if _unknown_parameters(build, source, data, parameters):
            continue
        condition = _condition(build, source, "/when", data["when"], vocabulary, parameters)
        if condition is not None:
            raised_by = _raises(build, source, vocabulary, parameters)
            rules.append(_rule(data, condition, parameters, raised_by))
            _check_cases(build, source, vocabulary)
    return rules


def _unknown_parameters(
    build: Build, source: Source, data: Any, parameters: Mapping[str, Parameter]
) -> bool:
    used = {value for pointer, key, value in walk(data) if key == "parameter"}
    for name in sorted(used - set(parameters)):
        build.complain(source, "/when", f"no parameter goes by {name!r}", "add it to `parameters`")
    for name in sorted(set(parameters) - used):
        build.complain(source, f"/parameters/{name}", f"the parameter {name!r} is never used")
    return bool(used - set(parameters))


def _targets(then: Mapping[str, Any]) -> list[str]:
    named = [then["supports"]] if "supports" in then else []
    for key in ("forbids", "cautions", "holds"):
        named += then.get(key, {}).get("options", [])
    return named


def _rule(
    data: Mapping[str, Any],
    condition: Condition,
    parameters: Mapping[str, Parameter],
    raised_by: tuple[Condition, ...],
) -> Rule:
    then = data["then"]
    aim = then.get("forbids") or then.get("cautions") or then.get("holds") or {}
    return Rule(
        id=data["id"],
        version=data["version"],
        status=data["status"],
        kind=data["kind"],
        title=data["title"],
        statement=data["statement"].strip(),
        condition=condition,
        effect=Effect(
            supports=then.get("supports", ""),
            target=Target(tuple(aim.get("options", ())), tuple(aim.get("traits", ()))),
            strength=then.get("strength", ""),
            advice=then.get("advice", "").strip(),
            urgency=then.get("urgency", ""),
            action=then.get("action", "").strip(),
            concludes=then.get("concludes", ""),
        ),
        confidence=data["confidence"],
        grade=data.get("grade", {}),
        sources=tuple(item["id"] for item in data["sources"]),
        parameters=parameters,
        raised_by=raised_by,
        screen=data.get("screen", ""),
        cases=tuple(
            Case(case["name"], case["given"], case.get("opposite", {}), case["expect"])
            for case in data["cases"]
        ),
        data=data,
    )


def _check_path(build: Build, source: Source, expected: str) -> None:
    if "#" not in source.file and source.file != expected:
        build.complain(source, "/id", f"the id belongs to {expected}", "move the file")


def _check_cites(build: Build, source: Source, data: Any, sources: Mapping[str, Any]) -> None:
    for pointer, key, value in walk(data):
        is_source = key == "id" and pointer.startswith("/sources/")
        if (key == "cites" or is_source) and value not in sources:
            close = nearest(str(value), list(sources))
            mend = f"did you mean {', '.join(close)}?" if close else "add it to sources/"
            build.complain(source, pointer, f"no source goes by {value!r}", mend)


def walk(data: Any, pointer: str = "") -> Iterator[tuple[str, str, Any]]:
    """Yield pointer, key and value of every value in a mapping, at any depth."""
    if isinstance(data, Mapping):
        for key, value in data.items():
            below = f"{pointer}/{escape(key)}"
            if isinstance(value, Mapping | list):
                yield from walk(value, below)
            else:
                yield below, key, value
    elif isinstance(data, list):
        for index, item in enumerate(data):
            yield from walk(item, f"{pointer}/{index}")


def _check_cases(build: Build, source: Source, vocabulary: Vocabulary) -> None:
    names = [case["name"] for case in source.data["cases"]]
    for index, case in enumerate(source.data["cases"]):
        pointer = f"/cases/{index}"
        if names.count(case["name"]) > 1:
            build.complain(source, pointer, f"two cases are called {case['name']!r}")
        for part in ("given", "opposite"):
            for name, raw in case.get(part, {}).items():
                _check_given(build, source, f"{pointer}/{part}/{name}", vocabulary, name, raw)


def _check_given(  # noqa: PLR0917 -- one place, one value, one vocabulary
    build: Build, source: Source, pointer: str, vocabulary: Vocabulary, name: str, raw: object
) -> None:
    definition = build.attempt(source, pointer, lambda: vocabulary[name])
    if definition is None:
        return
    if definition.derived:
        build.complain(source, pointer, f"{name} is derived; give what derives it")
        return
    build.attempt(source, pointer, lambda: definition.read(raw))


def _head(build: Build, files: list[Source], vocabulary: Vocabulary) -> Mapping[str, Any]:
    if not files:
        build.issues.append(Issue("error", "rulebook.yaml", 1, "the file is missing"))
        return {}
    source = files[0]
    if not build.valid(source, validator(rulebook_schema())):
        return {}
    finding = source.data["scope"]["finding"]
    if finding not in vocabulary or not vocabulary[finding].derived:
        build.complain(source, "/scope/finding", f"{finding} is not a derived finding")
    for index, complaint in enumerate(source.data["complaints"]):
        for name in (complaint["finding"], *complaint["ask"]):
            build.attempt(source, f"/complaints/{index}", partial(vocabulary.__getitem__, name))
    return dict(source.data)


def _check_whole(build: Build, book: Rulebook, files: Mapping[str, Source]) -> None:
    """Check what only the whole rulebook shows: derivations, computed inputs, screens."""
    vocabulary = book.vocabulary
    concluded: dict[str, str] = {}
    for rule in book.of_kind("derivation"):
        source, name = files[rule.id], rule.effect.concludes
        if name not in vocabulary or not vocabulary[name].derived:
            build.complain(source, "/then", f"{name} is not a derived finding of the vocabulary")
        elif name in concluded:
            build.complain(source, "/then", f"{concluded[name]} already concludes {name}")
        concluded[name] = rule.id
    for definition in vocabulary:
        _check_definition(build, definition, vocabulary, concluded)
    for rule in book.rules.values():
        if rule.screen and rule.screen not in vocabulary:
            build.complain(files[rule.id], "/screen", f"no finding goes by {rule.screen!r}")
        if not _derived_is_present(rule, vocabulary):
            build.complain(
                files[rule.id], "/when", "a derived finding is tested with `is: present` or absent"
            )
    _check_cycles(build, book, files)


def _check_definition(
    build: Build, definition: Definition, vocabulary: Vocabulary, concluded: Mapping[str, str]
) -> None:
    where = Issue("error", f"vocabulary/{definition.group}.yaml", 1, "")
    problem = ""
    if definition.derived and definition.id not in concluded:
        problem = f"{definition.id} is derived, but no derivation rule concludes it"
    if definition.computed is not None:
        for name in definition.computed.inputs:
            if name not in vocabulary or vocabulary[name].kind != "quantity":
                problem = f"{definition.id} is computed from {name}, which is no quantity"
    if problem:
        build.issues.append(Issue("error", where.file, 1, problem))


def _derived_is_present(rule: Rule, vocabulary: Vocabulary) -> bool:
    return all(
        isinstance(clause, Is)
        for clause in clauses(rule.condition)
        if vocabulary[clause.finding].derived
    )


def _check_cycles(build: Build, book: Rulebook, files: Mapping[str, Source]) -> None:
    done: set[str] = set()

    def visit(rule: Rule, path: tuple[str, ...]) -> None:
        if rule.id in path:
            ring = " -> ".join((*path[path.index(rule.id) :], rule.id))
            build.complain(files[rule.id], "/when", f"derivations run in a circle: {ring}")
            return
        if rule.id in done:
            return
        for name in rule.findings:
            if name in book.derived_by:
                visit(book.derived_by[name], (*path, rule.id))
        done.add(rule.id)

    for rule in book.of_kind("derivation"):
        visit(rule, ())
