"""Does each example story give its assessment, and do two of them give their page?

Recorded anew only by `pytest tests/golden --record-golden`: then look at the difference. An answer
names the digest of its release, so any change of knowledge asks for that look.
"""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest

from plafond.assessment import Assessment
from plafond.intake.structured import read_findings
from plafond.pipeline import Release, assess
from plafond.views.answer import answer_bytes
from plafond.views.terminal.layout import show
from plafond.views.terminal.page import page

HERE = Path(__file__).parent
EXAMPLES = HERE.parents[1] / "examples"
STORIES = sorted(path.parent.name for path in EXAMPLES.glob("*/findings.json"))
ASSESSMENT = "01a211ee-ea80-7000-8000-000000000000"
AT = "2026-11-25T09:00:00Z"
PAGES = ("instability-ready", "septic-ankle")


def assessment_of(story: str, release: Release) -> Assessment:
    document = (EXAMPLES / story / "findings.json").read_bytes()
    findings = read_findings(document, release.rulebook.vocabulary)
    return assess(findings, release, assessment=ASSESSMENT, at=AT)


@pytest.mark.parametrize("story", STORIES)
def test_a_story_gives_its_assessment(story, release, recording):
    golden = EXAMPLES / story / "assessment.json"
    given = json.loads(answer_bytes(assessment_of(story, release)))
    if recording:
        golden.write_text(json.dumps(given, indent=1, ensure_ascii=False, sort_keys=True) + "\n")
    assert json.loads(golden.read_text()) == given, "see the docstring of this file"


@pytest.mark.parametrize("story", PAGES)
def test_a_story_gives_its_page(story, release, recording, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")
    golden = HERE / f"{story}.txt"
    stream = io.StringIO()
    show(page(assessment_of(story, release), release.rulebook), stream)
    if recording:
        golden.write_text(stream.getvalue())
    assert golden.read_text() == stream.getvalue(), "see the docstring of this file"


def test_the_readme_tells_every_story_in_two_lines():
    text = (EXAMPLES / "README.md").read_text()
    told = re.findall(r"^- \[([a-z-]+)\]\(\1/\)\. .+\n  \S.+$", text, re.MULTILINE)
    assert sorted(told) == STORIES
    assert len(STORIES) >= 10
    assert len(re.findall(r"^- ", text, re.MULTILINE)) == len(STORIES)


def test_no_folder_of_the_examples_lacks_a_document_and_no_reference_is_used_twice():
    folders = sorted(path.name for path in EXAMPLES.iterdir() if path.is_dir())
    assert folders == STORIES
    documents = [json.loads((EXAMPLES / story / "findings.json").read_text()) for story in STORIES]
    references = [document["reference"] for document in documents]
    assert len(set(references)) == len(references)
    assert all("recorded" in document for document in documents)
