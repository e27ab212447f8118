"""YAML read strictly: no duplicate keys, only true and false are booleans, every line kept.

Gives plain data and, for each JSON pointer into it, the line it stands on. Quantities stay text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import yaml

from plafond.errors import Issue

_WHOLE = re.compile(r"-?(0|[1-9]\d{0,8})")
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Source:
    """One file as read: its name, its data, and the line of each pointer."""

    file: str
    data: Any
    lines: dict[str, int]

    def line(self, pointer: str) -> int:
        """Return the line of a pointer, or of the nearest thing that holds it."""
        while pointer and pointer not in self.lines:
            pointer = pointer.rpartition("/")[0]
        return self.lines.get(pointer, 1)

    def issue(self, pointer: str, message: str, mend: str = "", severity: str = "error") -> Issue:
        """Return an issue at a pointer of this file."""
        return Issue(severity, self.file, self.line(pointer), message, mend)


def read_yaml(file: str, text: str) -> tuple[Source | None, list[Issue]]:
    """Read one document; the source is None where the text is not YAML at all."""
    try:
        root = yaml.compose(text, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark
        line = mark.line + 1 if mark else 1
        return None, [Issue("error", file, line, f"not YAML: {error.problem or error}")]
    if root is None:
        return None, [Issue("error", file, 1, "the file is empty")]
    reader = _Reader(file)
    data = reader.read(root, "")
    return Source(file, data, reader.lines), reader.issues


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.lines: dict[str, int] = {}
        self.issues: list[Issue] = []
        self._seen: set[int] = set()

    def read(self, node: yaml.Node, pointer: str) -> Any:
        self.lines[pointer] = node.start_mark.line + 1
        if id(node) in self._seen:
            self._complain(node, "anchors and aliases are not used here", "write it out")
            return None
        self._seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, pointer)
        if isinstance(node, yaml.SequenceNode):
            return [self.read(item, f"{pointer}/{index}") for index, item in enumerate(node.value)]
        assert isinstance(node, yaml.ScalarNode)
        return self._scalar(node)

    def _mapping(self, node: yaml.MappingNode, pointer: str) -> dict[str, Any]:
        result: dict[str, Any] = {}
        for key_node, value_node in node.value:
            key = str(key_node.value)
            if key in result:
                self._complain(key_node, f"the key {key!r} stands twice", "keep one of them")
            below = f"{pointer}/{escape(key)}"
            result[key] = self.read(value_node, below)
            self.lines[below] = key_node.start_mark.line + 1
        return result

    def _scalar(self, node: yaml.ScalarNode) -> Any:
        text = str(node.value)
        if node.style:
            return text
        if text in ("true", "false"):
            return text == "true"
        if _WHOLE.fullmatch(text):
            return int(text)
        if text in ("", "~", "null"):
            self._complain(node, "an empty value", "leave the key out")
        return text

    def _complain(self, node: yaml.Node, message: str, mend: str) -> None:
        self.issues.append(Issue("error", self.file, node.start_mark.line + 1, message, mend))


def escape(key: str) -> str:
    """Return a key as a part of a JSON pointer (RFC 6901)."""
    return key.replace("~", "~0").replace("/", "~1")
