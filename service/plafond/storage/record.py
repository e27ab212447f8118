"""What is kept of one assessment, what an archive does, and an archive that forgets.

A record holds everything an answer depends on besides its release, and the digest by which the
answer given again is recognised. `findings` is the native form as canonical JSON text, so that
two archives give back the same characters.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Protocol

from plafond.errors import ArchiveError, NotKnownError


@dataclass(frozen=True, slots=True)
class Record:
    """One assessment as it is kept.

    `assessment` is a UUID version 7 as text, `at` an instant in UTC (2026-11-25T09:00:00Z),
    `release_digest` and `answer_digest` are `sha256:` and 64 hex digits, `everything` says
    whether the answer listed what nothing pointed at.
    """

    assessment: str
    at: str
    reference: str
    release_version: str
    release_digest: str
    everything: bool
    findings: str
    answer_digest: str
    triage: str


class Archive(Protocol):
    """Keeps records and gives them back; every method may raise ArchiveError."""

    def keep(self, record: Record) -> None:
        """Keep a record for good. Raises ArchiveError also where its id is kept already."""

    def get(self, assessment: str) -> Record:
        """Return a record; raises NotKnownError where nothing is kept by that id."""

    def count(self) -> int:
        """Return how many records are kept. Asks the archive, so it also shows that it is there."""

    def close(self) -> None:
        """Let go of what the archive holds open."""


class MemoryArchive:
    """An archive that is forgotten when the process ends: for tests and for trying things out."""

    def __init__(self) -> None:
        self._records: dict[str, Record] = {}
        self._lock = threading.Lock()

    def keep(self, record: Record) -> None:
        """Keep a record; raises ArchiveError where its id is kept already."""
        with self._lock:
            if record.assessment in self._records:
                raise ArchiveError("that id is kept already", found=record.assessment)
            self._records[record.assessment] = record

    def get(self, assessment: str) -> Record:
        """Return a record; raises NotKnownError where nothing is kept by that id."""
        try:
            return self._records[assessment]
        except KeyError:
            raise NotKnownError("assessment", assessment) from None

    def count(self) -> int:
        """Return how many records are kept."""
        return len(self._records)

    def close(self) -> None:
        """Forget nothing yet; the process does that."""
