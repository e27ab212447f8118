"""Every error of the service, in one tree.

    PlafondError
      SettingsError            a setting from the environment makes no sense
      QuantityError            a number without its unit, a wrong unit, an implausible value
      KnowledgeError           the knowledge files do not make a rulebook (carries every issue)
      ReleaseError             a release file is damaged, or no release answers to that name
      DocumentError            what came in cannot be read (carries every fault)
        DocumentSyntaxError    it is not JSON at all, or not safely so
        DocumentTooLargeError  it is larger than anything one patient needs
        LetterError            no text can be taken out of a letter
      NotKnownError            nothing goes by that id (carries the nearest known ones)
      ArchiveError             the archive cannot keep or give back an assessment
      ReplayError              a kept document cannot be read under another release
      AnswerDiffersError       an answer given again is not the answer that was given
      EngineError              the inference engine gave no answer that may be used
        EngineBuildError       the release breaks a limit of the engine
        EngineUnavailableError the engine process died or was too slow, twice
        InterpretersDisagreeError  two interpreters of one release differ

Each says where it happened, what was found, what was expected and what to do next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class PlafondError(Exception):
    """Something went wrong at a named place; the message says what to do about it."""

    def __init__(
        self,
        message: str,
        *,
        where: str = "",
        found: str = "",
        expected: str = "",
        mend: str = "",
    ) -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.found = found
        self.expected = expected
        self.mend = mend

    def __str__(self) -> str:
        parts = [f"{self.where}: {self.message}" if self.where else self.message]
        if self.found:
            parts.append(f"found {self.found}")
        if self.expected:
            parts.append(f"expected {self.expected}")
        if self.mend:
            parts.append(self.mend)
        return "; ".join(parts)


class SettingsError(PlafondError):
    """A setting from the environment makes no sense."""


class QuantityError(PlafondError):
    """A number without its unit, a unit that does not fit, or a value that is not plausible."""


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing wrong in the knowledge files: `severity` is error, warning or note."""

    severity: str
    file: str
    line: int
    message: str
    mend: str = ""

    def __str__(self) -> str:
        tail = f" -- {self.mend}" if self.mend else ""
        return f"{self.file}:{self.line}: {self.severity}: {self.message}{tail}"


class KnowledgeError(PlafondError):
    """The knowledge files do not make a rulebook; `issues` holds every reason at once."""

    def __init__(self, issues: Sequence[Issue]) -> None:
        errors = [issue for issue in issues if issue.severity == "error"]
        shown = "\n".join(str(issue) for issue in errors[:20])
        more = f"\n... and {len(errors) - 20} more" if len(errors) > 20 else ""
        super().__init__(
            f"the knowledge has {len(errors)} errors:\n{shown}{more}",
            mend="run `plafond verify`",
        )
        self.issues = tuple(issues)


class ReleaseError(PlafondError):
    """A release file is damaged, or no release answers to that name."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a document: `pointer` is a JSON pointer (RFC 6901) into it."""

    pointer: str
    message: str
    expected: str = ""
    nearest: tuple[str, ...] = ()


class DocumentError(PlafondError):
    """What came in cannot be read; `faults` holds every reason at once."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        first = faults[0]
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        super().__init__(f"{first.message}{more}", where=first.pointer or "/")
        self.faults = tuple(faults)


class DocumentSyntaxError(DocumentError):
    """The bytes are not JSON, or not JSON that can be read in one way only."""


class DocumentTooLargeError(DocumentError):
    """The document is larger than anything one patient needs."""


class LetterError(DocumentError):
    """No text can be taken out of a letter: a scan, a locked or damaged file, another kind."""


class NotKnownError(PlafondError):
    """Nothing goes by that id; `nearest` names the closest known ones."""

    def __init__(self, kind: str, name: str, nearest: Sequence[str] = ()) -> None:
        hint = f"did you mean {', '.join(nearest)}?" if nearest else ""
        super().__init__(f"no {kind} goes by {name!r}", mend=hint)
        self.kind = kind
        self.name = name
        self.nearest = tuple(nearest)


class ArchiveError(PlafondError):
    """The archive cannot keep or give back an assessment."""


class ReplayError(PlafondError):
    """A kept document does not fit the vocabulary of another release; `faults` says where."""

    def __init__(self, message: str, *, where: str, faults: Sequence[Fault]) -> None:
        super().__init__(message, where=where, found=f"{len(faults)} findings it does not know")
        self.faults = tuple(faults)


class AnswerDiffersError(PlafondError):
    """An answer given again, under its own release, is not the answer that was given."""


class EngineError(PlafondError):
    """The inference engine gave no answer that may be used."""


class EngineBuildError(EngineError):
    """The release breaks a limit of the engine; found when it is loaded, never in service."""


class EngineUnavailableError(EngineError):
    """The engine process died or did not answer in time, also when started afresh."""


class InterpretersDisagreeError(EngineError):
    """Two interpreters of one release differ on a case: there is no answer, and an alarm."""
