"""The knowledge as pages for the terminal: rules, options, findings, releases, issues.

Takes a rulebook; gives something `rich` prints, or plain lines. Knows no patient.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from plafond.errors import Issue
from plafond.governance.coverage import Coverage
from plafond.governance.verify import case_truth
from plafond.inference.explain import in_words
from plafond.rulebook import Option, ReleaseFile, Rule, Rulebook, Target
from plafond.views.terminal.citations import full, short
from plafond.views.terminal.layout import Row, heading, indented, points, table
from plafond.views.terminal.wording import CARD, URGENCY, grade_in_words, grounds, spoken
from plafond.vocabulary import Definition

LABEL = 13


# -- rules --------------------------------------------------------------------------------


def rule_line(rule: Rule) -> dict[str, Any]:
    """Return a rule in a line, as plain data."""
    return {
        "id": rule.id,
        "kind": rule.kind,
        "version": rule.version,
        "confidence": rule.confidence,
        "title": rule.title,
    }


def rules_page(rules: Sequence[Rule]) -> RenderableType:
    """Return a list of rules: the id on one line, what it is on the next."""
    lines: list[RenderableType] = []
    for rule in rules:
        said = f"{rule.kind} v{rule.version}, {rule.confidence}: {rule.title}"
        lines += [Text(rule.id, "bold"), indented(Text(said), 4)]
    return Group(*lines, Text(_count(len(rules), "rule")))


def coverage_page(covered: Coverage) -> RenderableType:
    """Return the map of the field as a table: a row an option, a column each thing counted."""
    grid = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    grid.add_column("Option", overflow="fold")
    for word in ("ind", "abs", "rel", "caut", "hold", "src", "cases"):
        grid.add_column(word, justify="right", no_wrap=True)
    grid.add_column("grade")
    grid.add_column("weakest")
    for row in covered.rows:
        counts = (row.indications, row.absolute.total, row.relative.total, row.cautions.total)
        more = (row.red_flags.total, row.sources, row.cases)
        name = row.title if row.arthroscopic else f"{row.title} (no keyhole)"
        numbers = [str(number) for number in (*counts, *more)]
        grid.add_row(name, *numbers, row.grade or "-", row.confidence or "-")
    regions = [
        f"{one.name}: {one.options} options, {one.rules} rules, {one.cases} cases"
        for one in covered.regions
    ]
    legend = (
        "ind indications, abs and rel absolute and relative contraindications, caut cautions, "
        "hold red flags that hold it, src sources, weakest the least sure of its own rules."
    )
    return Group(grid, Text(""), Text(legend), points(regions), Text(_count(covered.rules, "rule")))


def rule_page(rulebook: Rulebook, rule: Rule) -> RenderableType:
    """Return everything a rule says about itself, for someone who has to sign it."""
    rows: list[Row] = [
        ("Statement", Text(rule.statement)),
        ("When", _condition(in_words(rulebook, rule.condition))),
        *_then(rulebook, rule),
    ]
    if rule.grade:
        note = f". {rule.grade['note']}" if "note" in rule.grade else ""
        rows.append(("Grade", Text(f"{grade_in_words(rule.grade)}{note}")))
    rows += [("Parameter", Text(_parameter(rule, name))) for name in rule.parameters]
    rows += _dispute_rows(rule.data.get("dispute"))
    rows.append(("Confidence", Text(rule.confidence)))
    rows.append(("Rationale", Text(str(rule.data["rationale"]))))
    review = rule.data["review"]
    rows.append(("Review", Text(f"last {review['last']}, next {review['next']}")))
    return Group(
        Text(rule.title, "bold"),
        Text(f"{rule.id}, {rule.kind} version {rule.version}, {rule.status}"),
        Text(""),
        table(rows, 2, LABEL),
        heading("Sources"),
        points([_source(rulebook, one) for one in rule.data["sources"]]),
        heading("Cases"),
        points([_case(rulebook, rule, index) for index in range(len(rule.cases))]),
    )


def _condition(lines: Iterable[str]) -> RenderableType:
    """Return the lines of a condition; what wraps stays under its own beginning."""
    return Group(
        *(
            Padding(Text(line.lstrip()), (0, 0, 0, len(line) - len(line.lstrip())), expand=False)
            for line in lines
        )
    )


def _then(rulebook: Rulebook, rule: Rule) -> Iterator[Row]:
    effect = rule.effect
    match rule.kind:
        case "indication":
            yield "Supports", Text(f"{rulebook.options[effect.supports].title} ({effect.supports})")
        case "contraindication":
            yield "Forbids", Text(f"{_target(rulebook, effect.target)}; {effect.strength}")
        case "caution":
            yield "Cautions", Text(_target(rulebook, effect.target))
            yield "Advice", Text(effect.advice)
        case "red-flag":
            yield "Urgency", Text(f"act {URGENCY[effect.urgency]}")
            yield "Do", Text(effect.action)
            yield "Holds", Text(_target(rulebook, effect.target))
            raised = [line for one in rule.raised_by for line in in_words(rulebook, one)]
            yield "Raised by", _condition(raised)
            yield "Screen", Text(rulebook.vocabulary[rule.screen].question)
        case _:
            title = rulebook.vocabulary[effect.concludes].title
            yield "Concludes", Text(f"{title} ({effect.concludes})")


def _target(rulebook: Rulebook, target: Target) -> str:
    if target.traits:
        hit = sum(target.hits(option) for option in rulebook.options.values())
        return f"every option that is {' and '.join(target.traits)} ({hit} of them)"
    return "; ".join(rulebook.options[name].title for name in target.options) or "nothing"


def _parameter(rule: Rule, name: str) -> str:
    one = rule.parameters[name]
    cites = f" [{one.cites}]" if one.cites else ""
    return f"{name}: {spoken(one.value)} ({one.confidence}){cites}"


def _dispute_rows(dispute: Mapping[str, Any] | None) -> Iterator[Row]:
    if dispute:
        yield "Disputed", Text(str(dispute["question"]))
        for position in dispute["positions"]:
            cites = f" [{position['cites']}]" if "cites" in position else ""
            yield "Disputed", Text(f"- {position['says']}{cites}")


def _source(rulebook: Rulebook, cited: Mapping[str, Any]) -> str:
    source = rulebook.sources[cited["id"]]
    note = f" Note: {source['note']}" if "note" in source else ""
    return f"[{cited['id']}] {full(source)} For: {cited['supports']}.{note}"


def _case(rulebook: Rulebook, rule: Rule, index: int) -> str:
    case = rule.cases[index]
    other = f"; other side: {_given(case.opposite)}" if case.opposite else ""
    gives = case_truth(rulebook, rule, case).value
    wrong = "" if gives == case.expect else f", NOT {case.expect} as expected"
    return f"{case.name}: gives {gives}{wrong} ({_given(case.given)}{other})"


def _given(values: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} {raw}" for name, raw in values.items()) or "nothing recorded"


# -- options ------------------------------------------------------------------------------


def options_page(options: Sequence[Option]) -> RenderableType:
    """Return a list of options: the id on one line, what it is on the next."""
    lines: list[RenderableType] = []
    for option in options:
        way = "arthroscopic" if option.arthroscopic else "not arthroscopic"
        lines += [Text(option.id, "bold"), indented(Text(f"{option.title} ({way})"), 4)]
    return Group(*lines, Text(_count(len(options), "option")))


def option_page(rulebook: Rulebook, option: Option) -> RenderableType:
    """Return an option: what it is, what raises it, its approach card, and every rule on it."""
    raised = [line for one in option.raised_by for line in in_words(rulebook, one)]
    rows: list[Row] = [
        ("Summary", Text(option.summary)),
        ("Traits", Text(", ".join(option.traits) or "none")),
        ("Raised by", _condition(raised)),
    ]
    rows += [("Instead", Text(_line(one))) for one in option.alternatives]
    for part, label in CARD.items():
        rows += [(label, Text(_line(one))) for one in option.approach.get(part, ())]
    blocks: list[RenderableType] = [Text(option.title, "bold"), Text(option.id), Text("")]
    blocks.append(table(rows, 2, LABEL))
    speaking = {
        "Supported by": rulebook.indications[option.id],
        "Spoken against by": rulebook.against[option.id],
        "Held by": rulebook.holding[option.id],
    }
    for words, rules in speaking.items():
        if rules:
            blocks += [heading(words), points([_rule_in_short(rule) for rule in rules])]
    cited = [one["cites"] for one in _lines_of(option) if "cites" in one]
    if cited:
        listed = [f"[{name}] {short(rulebook.sources[name])}" for name in dict.fromkeys(cited)]
        blocks += [heading("Sources"), points(listed)]
    return Group(*blocks)


def _lines_of(option: Option) -> Iterator[Mapping[str, Any]]:
    yield from option.alternatives
    for part in CARD:
        yield from option.approach.get(part, ())


def _line(line: Mapping[str, Any]) -> str:
    said = ", ".join(str(line[key]) for key in ("option", "says") if key in line)
    marks = f"[{line['cites']}]" if "cites" in line else ""
    return f"{said} {grounds(line, marks)}".strip()


def _rule_in_short(rule: Rule) -> str:
    strength = f" ({rule.effect.strength})" if rule.effect.strength else ""
    return f"{rule.id}{strength}: {rule.title}"


# -- findings -----------------------------------------------------------------------------


def findings_page(definitions: Iterable[Definition]) -> RenderableType:
    """Return the vocabulary by group: id, values or unit and range, side, question."""
    blocks: list[RenderableType] = []
    ordered = sorted(definitions, key=lambda one: (one.group, one.id))
    for group, found in groupby(ordered, key=lambda one: one.group):
        blocks += [*([Text("")] if blocks else []), Text(group, "bold")]
        for one in found:
            side = "each side" if one.sided else "person"
            question = f": {one.question}" if one.question else ""
            said = f"{one.kind}, {side}, {_allowed(one)}{question}"
            blocks += [indented(Text(one.id)), indented(Text(said), 6)]
    return Group(*blocks, Text(""), Text(_count(len(ordered), "finding")))


def finding_page(rulebook: Rulebook, one: Definition) -> RenderableType:
    """Return one finding, how to write it in a document, and the rules that test it."""
    rows: list[Row] = [
        ("Kind", Text(one.kind)),
        ("Belongs to", Text("left, right or unspecified" if one.sided else "person")),
        ("Value", Text(_allowed(one))),
    ]
    if one.units:
        rows.append(("Units", Text(", ".join(one.units))))
    if one.question:
        rows.append(("Question", Text(one.question)))
    if not one.derived:
        rows.append(("In a document", Text(_example(rulebook, one))))
    if one.phrases:
        rows.append(("Phrases", Text("; ".join(one.phrases))))
    rows += [(system.upper(), Text(", ".join(codes))) for system, codes in one.codes.items()]
    testing = [rule for rule in rulebook.rules.values() if one.id in rule.findings]
    blocks: list[RenderableType] = [Text(one.title, "bold"), Text(f"{one.id}, group {one.group}")]
    blocks += [Text(""), table(rows, 2, LABEL)]
    if testing:
        blocks += [heading("Tested by"), points([_rule_in_short(rule) for rule in testing])]
    return Group(*blocks)


def _allowed(one: Definition) -> str:
    if one.derived:
        return "worked out by a rule, never recorded"
    computed = f", or computed from {' and '.join(one.computed.inputs)}" if one.computed else ""
    return f"{one.allowed()}{computed}"


def _example(rulebook: Rulebook, one: Definition) -> str:
    """Return a finding as a document writes it, with a value some rule's case has."""
    shown = (
        case.given[one.id]
        for rule in rulebook.rules.values()
        for case in rule.cases
        if one.id in case.given
    )
    value = next(shown, one.values[0] if one.values else one.show(one.high))
    return json.dumps({"left" if one.sided else "person": {one.id: value}}, ensure_ascii=False)


# -- releases and issues ------------------------------------------------------------------


def release_lines(files: Sequence[ReleaseFile]) -> list[str]:
    """Return a line a release, newest last: its version and digest."""
    lines = [f"{one.version}  {one.digest}" for one in files]
    return [*lines[:-1], *(f"{line}  (newest)" for line in lines[-1:])]


def issue_lines(issues: Sequence[Issue]) -> list[str]:
    """Return a line an issue, and last how many there are of each severity."""
    counted = Counter(issue.severity for issue in issues)
    words = [_count(counted[one], one) for one in ("error", "warning", "note")]
    return [*map(str, issues), ", ".join(words)]


def release_counts(rulebook: Rulebook) -> str:
    """Return what a rulebook holds, in numbers."""
    numbers = {
        "rule": len(rulebook.rules),
        "case": sum(len(rule.cases) for rule in rulebook.rules.values()),
        "option": len(rulebook.options),
        "finding": len(rulebook.vocabulary),
        "source": len(rulebook.sources),
    }
    return ", ".join(_count(number, word) for word, number in numbers.items())


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
