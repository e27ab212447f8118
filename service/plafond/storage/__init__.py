"""Keeps what an answer was given on, so that it can be given again.

Takes a `Record` (coded findings in the native form, the release, the digest of the answer) and
gives it back by its id. Keeps no free text and no identifier but the caller's opaque reference.
Refuses to know what a finding means or how an answer is worked out.
"""

from plafond.storage.archive import SqlArchive, open_archive
from plafond.storage.record import Archive, MemoryArchive, Record

__all__ = ["Archive", "MemoryArchive", "Record", "SqlArchive", "open_archive"]
