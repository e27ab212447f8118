"""Where things stand in the knowledge files, for what is found only after they were loaded."""

from __future__ import annotations

from dataclasses import dataclass, field

from plafond.errors import Issue
from plafond.governance.trees import Way, pointer
from plafond.rulebook import Rule
from plafond.rulebook.loading import Knowledge
from plafond.rulebook.strict_yaml import Source


@dataclass
class Places:
    """The files of a rulebook by what they hold; makes issues with file and line."""

    rules: dict[str, Source] = field(default_factory=dict)
    options: dict[str, Source] = field(default_factory=dict)
    findings: dict[str, Source] = field(default_factory=dict)
    sources: dict[str, tuple[Source, int]] = field(default_factory=dict)
    letters: list[Source] = field(default_factory=list)

    def rule(self, name: str, at: str, message: str, severity: str, mend: str = "") -> Issue:
        """Return an issue at a JSON pointer of a rule's file."""
        return self.rules[name].issue(at, message, mend, severity)

    def condition(self, rule: Rule, way: Way, message: str, severity: str, mend: str = "") -> Issue:
        """Return an issue at a node of a rule's condition."""
        at = f"/when{pointer(rule.condition, way)}"
        return self.rule(rule.id, at, message, severity, mend)

    def option(self, name: str, at: str, message: str, severity: str, mend: str = "") -> Issue:
        """Return an issue at a JSON pointer of an option's file."""
        return self.options[name].issue(at, message, mend, severity)

    def finding(self, name: str, at: str, message: str, severity: str, mend: str = "") -> Issue:
        """Return an issue at a JSON pointer below a finding of the vocabulary."""
        return self.findings[name].issue(f"/findings/{name}{at}", message, mend, severity)

    def source(self, name: str, message: str, severity: str) -> Issue:
        """Return an issue at a source."""
        source, index = self.sources[name]
        return source.issue(f"/{index}", message, "", severity)


def places_of(knowledge: Knowledge) -> Places:
    """Return the places of files that loaded without an error."""
    return Places(
        rules={source.data["id"]: source for source in knowledge.rules},
        options={source.data["id"]: source for source in knowledge.options},
        findings={
            name: source for source in knowledge.vocabulary for name in source.data["findings"]
        },
        sources={
            item["id"]: (source, index)
            for source in knowledge.sources
            for index, item in enumerate(source.data)
        },
        letters=knowledge.letters,
    )
