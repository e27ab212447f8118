"""Takes the text out of a letter that came as plain text, RTF, DOCX or PDF.

Takes bytes, gives text; knows no finding and reads nothing into the words. A file that holds no
text (a scan), is locked or damaged, or is larger than any letter is a fault that says so.
"""

from __future__ import annotations

import codecs
import io
import re
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import docx
from docx.opc.exceptions import PackageNotFoundError
from docx.table import Table
from lxml.etree import XMLSyntaxError  # type: ignore[import-untyped]
from pypdf import PdfReader
from pypdf.errors import PyPdfError
from striprtf.striprtf import rtf_to_text

from plafond.errors import DocumentTooLargeError, Fault, LetterError

MOST_BYTES = 5_000_000
MOST_TEXT = 262_144
MOST_PAGES = 50
MOST_UNPACKED = 20_000_000
KINDS = ("text", "rtf", "docx", "pdf")


def letter_text(payload: bytes) -> str:
    """Return the text of a letter, by what its bytes are and not by what it is called.

    Plain text is UTF-8, UTF-16 with its mark, or else Windows-1252. Raises LetterError where no
    text can be had, DocumentTooLargeError above 5 MB of file or 256 kB of text.
    """
    if len(payload) > MOST_BYTES:
        raise _too_large(f"{len(payload)} bytes is too large", f"at most {MOST_BYTES} bytes")
    kind = kind_of(payload)
    text = _READERS[kind](payload)
    if len(text.encode("utf-8", "surrogatepass")) > MOST_TEXT:
        raise _too_large(
            f"{len(text)} characters is too long for a letter", f"at most {MOST_TEXT} bytes of text"
        )
    if not text.strip():
        raise _fault("there is no text in it", _NO_TEXT[kind])
    return text


def kind_of(payload: bytes) -> str:
    """Say what a file is by its first bytes: text, rtf, docx or pdf.

    Raises LetterError for a picture, an archive or anything else that is none of these.
    """
    head = payload[:1024].lstrip(b"\xef\xbb\xbf \r\n\t")
    if head.startswith(b"{\\rtf"):
        return "rtf"
    if head.startswith(b"%PDF-"):
        return "pdf"
    if payload.startswith(b"PK\x03\x04"):
        return "docx"
    for mark, name in _OTHERS:
        if payload.startswith(mark):
            raise _fault(f"this is {name}, not a letter", _EXPECTED)
    return "text"


_EXPECTED = "plain text, RTF, DOCX or a PDF with its text"
_OTHERS = (
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x89PNG", "a PNG picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"GIF8", "a GIF picture"),
    (b"\xd0\xcf\x11\xe0", "an old binary Word file; save it as DOCX"),
    (b"\x1f\x8b", "a compressed file"),
)
_NO_TEXT = {
    "text": "a letter with words in it",
    "rtf": "a letter with words in it",
    "docx": "a letter with words in it; pictures of text are not read",
    "pdf": "a PDF with its text; this looks like a scan, which has to go through text recognition",
}


def _fault(message: str, expected: str) -> LetterError:
    return LetterError([Fault("", message, expected)])


def _too_large(message: str, expected: str) -> DocumentTooLargeError:
    return DocumentTooLargeError([Fault("", message, expected)])


def _from_text(payload: bytes) -> str:
    for mark, name in _MARKS:
        if payload.startswith(mark):
            return _decoded(payload, name)
    if b"\x00" in payload:
        raise _fault("there are zero bytes in it", _EXPECTED)
    try:
        return payload.decode("utf-8")
    except UnicodeDecodeError:
        return _decoded(payload, "cp1252")


_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def _decoded(payload: bytes, name: str) -> str:
    try:
        return payload.decode(name)
    except UnicodeDecodeError as error:
        raise _fault(f"not text: byte {error.start} means nothing", "text in UTF-8") from error


def _from_rtf(payload: bytes) -> str:
    written = payload.decode("latin-1")
    if written.count("{") - written.count("}") > 0:
        raise _fault("the RTF is cut off: brackets are left open", "the whole file")
    try:
        text = str(rtf_to_text(written, errors="ignore"))  # type: ignore[no-untyped-call]
    except (ValueError, IndexError, LookupError, UnicodeError) as error:
        raise _fault("the RTF is damaged", _EXPECTED) from error
    return text.replace("|", "\t")  # how the library writes the cells of a table


def _from_docx(payload: bytes) -> str:
    try:
        with zipfile.ZipFile(io.BytesIO(payload)) as packed:
            names = packed.namelist()
            unpacked = sum(one.file_size for one in packed.infolist())
        if "word/document.xml" not in names:
            raise _fault("this is an archive, not a Word document", _EXPECTED)
        if unpacked > MOST_UNPACKED:
            raise _too_large("the DOCX unpacks to more than a letter holds", "a letter")
        document = docx.Document(io.BytesIO(payload))
        return "\n".join(_blocks(document))
    except (
        zipfile.BadZipFile,
        PackageNotFoundError,
        XMLSyntaxError,
        KeyError,
        ValueError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise _fault("the DOCX is damaged or locked", _EXPECTED) from error


def _blocks(holder: Any) -> Iterator[str]:
    """Give the paragraphs and tables of a document or a cell in their order, a line each."""
    for block in holder.iter_inner_content():
        if not isinstance(block, Table):
            yield block.text
            continue
        for row in block.rows:
            cells: dict[Any, str] = {}
            for cell in row.cells:  # a merged cell comes once for every column it spans
                cells.setdefault(cell._tc, " ".join(" ".join(_blocks(cell)).split()))
            yield "\t".join(cells.values())


def _from_pdf(payload: bytes) -> str:
    try:
        reader = PdfReader(io.BytesIO(payload), strict=False)
        if reader.is_encrypted and not reader.decrypt(""):
            raise _fault("the PDF is locked with a password", "a PDF that opens without one")
        if len(reader.pages) > MOST_PAGES:
            raise _too_large(f"the PDF has {len(reader.pages)} pages", f"at most {MOST_PAGES}")
        pages = [page.extract_text(extraction_mode="layout") for page in reader.pages]
    except (PyPdfError, ValueError, KeyError, TypeError, RecursionError, AttributeError) as error:
        raise _fault("the PDF is damaged", _EXPECTED) from error
    return "\n\n".join(_flush_left(page) for page in pages)


def _flush_left(page: str) -> str:
    """Take away the margin that a page has on its left, which says nothing."""
    lines = [line.rstrip() for line in page.splitlines()]
    margins = [len(line) - len(line.lstrip()) for line in lines if line]
    margin = min(margins, default=0)
    return re.sub(r"\n{3,}", "\n\n", "\n".join(line[margin:] for line in lines)).strip("\n")


_READERS: dict[str, Callable[[bytes], str]] = {
    "text": _from_text,
    "rtf": _from_rtf,
    "docx": _from_docx,
    "pdf": _from_pdf,
}
