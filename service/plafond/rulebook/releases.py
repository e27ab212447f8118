"""Releases: a rulebook frozen as canonical JSON (RFC 8785) and known by its SHA-256.

A release is what answers name and what replays load. Making one from files that did not change
gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import rfc8785

from plafond.errors import KnowledgeError, ReleaseError
from plafond.rulebook.loading import (
    Knowledge,
    assemble,
    knowledge_of_bundle,
    load_directory,
    read_directory,
)
from plafond.rulebook.rules import Rulebook

FORMAT = "plafond-release"
PARTS = {
    "rulebook": dict,
    "vocabulary": list,
    "letters": list,
    "options": list,
    "sources": list,
    "rules": list,
}
#: Parts that releases made before there were any lack.
LATER = ("letters",)


@dataclass(frozen=True, slots=True)
class ReleaseFile:
    """A release on disk: its version, its digest, and where it lies."""

    version: str
    digest: str
    path: Path


def bundle(knowledge: Knowledge) -> dict[str, Any]:
    """Return the plain data of a release: active rules and all they rest on, sorted by id."""
    rules = [source.data for source in knowledge.rules if source.data["status"] == "active"]
    items = [item for source in knowledge.sources for item in source.data]
    return {
        "format": FORMAT,
        "rulebook": knowledge.rulebook[0].data,
        "vocabulary": sorted(
            (source.data for source in knowledge.vocabulary), key=lambda data: str(data["group"])
        ),
        "letters": sorted(
            (source.data for source in knowledge.letters), key=lambda data: str(data["group"])
        ),
        "options": _by_id(source.data for source in knowledge.options),
        "sources": _by_id(items),
        "rules": _by_id(rules),
    }


def _by_id(items: Any) -> list[Any]:
    return sorted(items, key=lambda data: str(data["id"]))


def digest_of(payload: bytes) -> str:
    """Return the digest answers name: `sha256:` and 64 hex digits."""
    return "sha256:" + hashlib.sha256(payload).hexdigest()


def freeze(folder: Path) -> tuple[Rulebook, bytes]:
    """Make a release of the knowledge files under a folder.

    Returns the rulebook and its canonical bytes. Raises KnowledgeError with every issue.
    """
    loaded, issues = load_directory(folder)
    if loaded is None:
        raise KnowledgeError(issues)
    knowledge, _ = read_directory(folder)
    payload = rfc8785.dumps(bundle(knowledge))
    return thaw(payload, loaded.version), payload


def thaw(payload: bytes, name: str) -> Rulebook:
    """Make a rulebook of a release's bytes.

    Raises ReleaseError where they are not a canonical release, KnowledgeError where they do not
    make a rulebook.
    """
    try:
        data = json.loads(payload)
        canonical = rfc8785.dumps(data)
    except (ValueError, TypeError) as error:
        raise ReleaseError("not a release", where=name, found=str(error)) from error
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise ReleaseError("not a release", where=name, expected=f'"format": "{FORMAT}"')
    _check_shape(data, name)
    if canonical != payload:
        raise ReleaseError(
            "the release is not in canonical form",
            where=name,
            expected="RFC 8785 bytes, as `plafond release build` writes them",
            mend="build it again; do not edit a release by hand",
        )
    rulebook, issues = assemble(knowledge_of_bundle(data, name), digest_of(payload))
    if rulebook is None:
        raise KnowledgeError(issues)
    return rulebook


def _check_shape(data: Mapping[str, Any], name: str) -> None:
    """Refuse a release that lacks a part or holds a rule or an option twice."""
    for part, kind in PARTS.items():
        if not isinstance(data.get(part), kind) and (part in data or part not in LATER):
            raise ReleaseError("not a whole release", where=name, expected=f"its {part}")
    for part in ("options", "rules"):
        ids = [str(one["id"]) for one in data[part] if isinstance(one, dict) and "id" in one]
        twice = sorted({one for one in ids if ids.count(one) > 1})
        if twice:
            raise ReleaseError("not a release", where=name, found=f"{', '.join(twice)} twice")


def releases(folder: Path) -> tuple[ReleaseFile, ...]:
    """Return the releases under `<folder>/releases`, newest version last."""
    found = []
    for path in (folder / "releases").glob("*.json"):
        found.append(ReleaseFile(path.stem, digest_of(path.read_bytes()), path))
    return tuple(sorted(found, key=lambda file: _version_key(file.version)))


def _version_key(version: str) -> tuple[int, ...]:
    return tuple(int(part) if part.isdecimal() else 0 for part in version.split("."))


def find_release(folder: Path, name: str) -> ReleaseFile:
    """Return the release of that version or digest (its first eight hex digits suffice).

    An empty name means the newest. Raises ReleaseError, naming what there is.
    """
    known = releases(folder)
    if not name and known:
        return known[-1]
    wanted = name.removeprefix("sha256:")
    for file in known:
        hexadecimal = file.digest.removeprefix("sha256:")
        if name == file.version or (len(wanted) >= 8 and hexadecimal.startswith(wanted)):
            return file
    raise ReleaseError(
        f"no release goes by {name!r}" if name else "there is no release yet",
        where=str(folder / "releases"),
        expected=", ".join(file.version for file in known) or "at least one release",
        mend="`plafond release build` makes one of the knowledge files",
    )


def load_release(file: ReleaseFile) -> Rulebook:
    """Load a release from disk."""
    return thaw(file.path.read_bytes(), file.path.name)
