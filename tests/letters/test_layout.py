"""Is a letter cut where it lies apart on the page, and joined where a line was only wrapped?"""

from __future__ import annotations

import pytest

SECTIONS = [
    ("PMH: diabetes", ["past"]),
    ("Past medical history:\ndiabetes\n\nO/E:\nankle pain", ["past", "other", "examination"]),
    ("O/E\nankle pain", ["examination"]),
    ("MRI right ankle: lesion", ["imaging"]),
    ("IMPRESSION\nankle pain", ["impression"]),
    ("Plan - injection", ["plan"]),
    ("1. History: ankle pain\n2. Examination: stiff ankle", ["complaint", "examination"]),
    ("ankle pain", ["complaint"]),
]  # fmt: skip
READ = [
    # bullets and numbered lists are statements of their own
    ("- no fever\n- redness", {"fever absent", "redness present"}),
    ("* no fever\n* redness", {"fever absent", "redness present"}),
    ("\u2022 no fever\n\u2022 redness", {"fever absent", "redness present"}),
    ("1. No fever\n2. Redness", {"fever absent", "redness present"}),
    ("No fever\nRedness", {"fever absent", "redness present"}),
    # a line wrapped by hand goes on
    (
        "The films that were taken at the time of the first visit showed no\n"
        "fracture.",
        {"fracture absent"},
    ),
    (
        "She came back because of the ankle and there was no evidence of a\r\n"
        "fracture. The ankle is stiff.",
        {"fracture absent", "stiffness present"},
    ),
    ("weight-bearing hurts; osteo-\nchondral", set()),
    # tables
    (
        "Test\tLeft\tRight\nDrawer\tnegative\tpositive\nTilt\t2+\t-",
        {"drawer left negative", "drawer right positive", "tilt left positive"},
    ),
    (
        "            Right     Left\nDrawer      +ve       -ve\nABPI        0.7       1.0",
        {"drawer right positive", "drawer left negative", "abpi right 0.7", "abpi left 1"},
    ),
    (
        "| Test | R | L |\n| Drawer | positive | negative |\n\nNo fever.",
        {"drawer right positive", "drawer left negative", "fever absent"},
    ),
    # what a heading opens ends where another opens, or at a blank line
    ("Family history: DVT\n\nRedness.", {"dvt present other-person", "redness present"}),
    ("Family history\nDVT\nExamination\nRedness", {"dvt present other-person", "redness present"}),
    # sentences
    ("Seen by Dr. Smith. Redness.", {"redness present"}),
    ("No fever.Redness.", {"fever absent", "redness present"}),
    ("No fever; redness.", {"fever absent", "redness present"}),
    ("Any fever? No. Redness.", {"fever present uncertain", "redness present"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kinds"), SECTIONS, ids=[text for text, _ in SECTIONS])
def test_a_heading_opens_a_section_of_its_kind(read, text, kinds):
    assert [one.kind for one in read(text).sections] == kinds


@pytest.mark.parametrize(("text", "expected"), READ, ids=[text for text, _ in READ])
def test_what_lies_apart_is_read_apart(said, text, expected):
    assert said(text) == expected


def test_a_section_is_a_stretch_of_the_raw_text(read):
    text = "Dear Dr,\r\n\r\nPMH:\u00a0 diabetes\r\n\r\nO/E: ankle  pain"
    sections = read(text).sections
    assert [text[one.start : one.end].strip() for one in sections] == [
        "Dear Dr,",
        "PMH:\u00a0 diabetes",
        "",
        "O/E: ankle  pain",
    ]
