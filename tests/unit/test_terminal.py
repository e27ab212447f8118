"""Does the page say what the answer says, at any width, to a reader in a hurry?"""

from __future__ import annotations

import io
import json
import re

import pytest

from plafond.assessment import Assessment, Verdict
from plafond.intake.structured import findings_of, read_findings
from plafond.pipeline import assess
from plafond.views.terminal import knowledge as knowledge_pages
from plafond.views.terminal.citations import Numbered, full, short
from plafond.views.terminal.layout import show
from plafond.views.terminal.page import GRAVE, page
from plafond.views.terminal.wording import (
    STANDINGS,
    TRIAGE,
    URGENCY,
    grade_in_words,
    spoken,
    values_so_far,
)

UNSTABLE = {
    "giving-way": "present",
    "anterior-drawer": "positive",
    "symptom-duration": "8 mo",
    "rehabilitation-duration": "12 wk",
}
SEPTIC = {
    "hot-swollen-joint": "present",
    "joint-inflammation-duration": "3 d",
    "restricted-joint-movement": "present",
    "joint-aspirate": "purulent-or-organisms",
    "anterior-ankle-pain": "present",
    "anterior-spur": "present",
    "loose-body-on-imaging": "present",
}
DOCUMENTS = {
    "an unstable ankle": {"person": {"age": "27 a"}, "left": UNSTABLE},
    "a heel letter": {
        "person": {"age": "44 a"},
        "left": {"sudden-achilles-pain": "present", "achilles-gap": "present"},
    },
    "an acute injury": {
        "right": {
            "recent-injury": "present",
            "time-since-injury": "1 d",
            "malleolar-zone-pain": "present",
        }
    },
    "a septic joint": {"person": {"age": "58 a", "hba1c": "9.1 %"}, "left": SEPTIC},
    "both sides": {
        "recorded": "2026-11-20",
        "person": {"age": "35 a", "smoking": "current"},
        "left": {
            "talar-lesion-on-imaging": "present",
            "lesion-coronal-length": "9 mm",
            "lesion-sagittal-length": "11 mm",
            "ankle-pain": "present",
            "recurrent-sprains": "present",
            "giving-way": ["present", {"value": "absent", "on": "2026-10-01"}],
        },
        "right": {"anterior-ankle-pain": "present", "anterior-spur": "present"},
    },
    "worn out, side not said, skin broken": {
        "person": {"age": "61 a", "smoking": "current", "anticoagulant": "present"},
        "unspecified": {
            "disabling-ankle-pain": "present",
            "ankle-joint-space": "lost",
            "non-operative-measures-failed": "present",
            "portal-site-infection": "present",
        },
    },
    "a child": {"person": {"age": "14 a", "open-growth-plate": "present"}, "left": UNSTABLE},
    "nothing at all": {},
}


@pytest.fixture(scope="session")
def answer_to(release):
    """The assessment of a document under the knowledge files."""

    def answer(document: dict, *, everything: bool = False) -> Assessment:
        findings = findings_of(document, release.rulebook.vocabulary)
        at = "2026-11-25T09:00:00Z"
        return assess(findings, release, assessment="a-1", at=at, everything=everything)

    return answer


@pytest.fixture
def printed(answer_to, rulebook, monkeypatch):
    """The page of a document as it is written to a pipe, so many columns wide."""

    def text(document: dict, *, width: int = 80, everything: bool = False, **options) -> str:
        monkeypatch.setenv("COLUMNS", str(width))
        stream = io.StringIO()
        show(page(answer_to(document, everything=everything), rulebook, **options), stream)
        return stream.getvalue()

    return text


def flat(text: str) -> str:
    return " ".join(text.split())


def section(text: str, title: str) -> str:
    """Return what stands under a heading, to the next one."""
    found = re.search(rf"^{title}.*?\n(.*?)(?=^\S|\Z)", text, re.M | re.S)
    return flat(found[1]) if found else ""


every_document = pytest.mark.parametrize("document", DOCUMENTS.values(), ids=list(DOCUMENTS))


@every_document
def test_the_first_words_are_the_triage_and_why(document, answer_to, printed):
    answer = answer_to(document)
    assert flat(printed(document)).startswith(f"{TRIAGE[answer.triage]}: {answer.triage_reason}.")


@every_document
@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
@pytest.mark.parametrize("everything", [False, True], ids=["in play", "all"])
def test_the_page_hides_nothing_grave(document, full, everything, answer_to, printed):
    """Every red flag with its urgency and action, every option, every grave question."""
    answer = answer_to(document, everything=everything)
    text = flat(printed(document, full=full, everything=everything))
    for side in answer.sides.values():
        for flag in side.red_flags:
            word = "MET" if flag.state == "met" else "POSSIBLE"
            assert f"{word}: {flag.title} (act {URGENCY[flag.urgency]})" in text
            assert flat(flag.action) in text
        for option in side.options:
            assert option.title in text
            assert STANDINGS[option.standing] in text
            for verdict in option.against:
                shown = verdict.title if verdict.kind == "red-flag" else flat(verdict.statement)
                assert shown in text
            grave = [check.question for check in option.checks if check.severity in GRAVE]
            if option.standing == "on-hold" and not full:
                assert "assess again" in text
                assert not grave or f"{len(set(grave))} grave checks are open for it" in text
                continue
            for caution in option.cautions:
                assert caution.title in text
            for question in grave:
                assert question in text
        for line in side.set_aside:
            assert line.title in text
        assert f"Considered {side.considered} options" in text
    assert flat(answer.notice) in text


@every_document
@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
def test_the_page_keeps_to_the_width_and_to_100_columns(document, width, full, printed):
    lines = printed(document, width=width, full=full).split("\n")
    assert max(map(len, lines)) <= min(width, 100)
    assert all(line == line.rstrip() for line in lines)
    assert not any("\x1b" in line for line in lines), "a pipe gets no escape codes"


def test_a_wide_terminal_is_used(printed):
    document = DOCUMENTS["an unstable ankle"]
    assert 80 < max(map(len, printed(document, width=120).split("\n"))) <= 100


@pytest.mark.parametrize("colours", [True, False], ids=["colours", "NO_COLOR"])
def test_words_carry_the_meaning_and_no_color_is_obeyed(colours, printed, monkeypatch):
    document = DOCUMENTS["a septic joint"]
    plain = printed(document)
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    if not colours:
        monkeypatch.setenv("NO_COLOR", "1")
    styled = printed(document)
    assert "\x1b[" in styled
    coloured = re.search(r"\x1b\[[0-9;]*3[0-7][;m]", styled)
    assert (coloured is not None) == colours
    bare = re.sub(r"\x1b\[[0-9;]*m", "", styled)
    assert [line.rstrip() for line in bare.split("\n")] == plain.split("\n")


@every_document
@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
def test_every_mark_has_its_source_and_every_source_its_mark(document, full, printed):
    text = printed(document, full=full)
    body, _, listed = text.partition("\nSources\n")
    marked = set()
    for mark in re.findall(r"\[(\d[\d,\s-]*)\]", body):
        for part in re.sub(r"\s", "", mark).split(","):
            first, _, last = part.partition("-")
            marked |= set(range(int(first), int(last or first) + 1))
    numbers = re.findall(r"^ {1,4}(\d+) \S", listed, re.M)
    assert marked == set(map(int, numbers))


def test_a_red_flag_that_is_met_stands_first_and_holds_by_name(printed):
    text = printed(DOCUMENTS["a septic joint"])
    assert text.index("RED FLAGS") < text.index("INDICATED") < text.index("ON HOLD")
    held = flat(text[text.index("ON HOLD") :])
    assert "Against the red flag above: " in held
    assert "Arthroscopic washout of a septic ankle, grade C for (Wright 2005)" in flat(text)


def test_an_option_that_does_not_stand_only_would_have_its_grade(answer_to, printed):
    seen = set()
    for document in DOCUMENTS.values():
        text = flat(printed(document))
        for side in answer_to(document).sides.values():
            for option in [one for one in side.options if one.grade]:
                stands = option.standing == "indicated" or option.grade["direction"] == "against"
                would = "" if stands else "would be "
                assert f"{option.title}, {would}{grade_in_words(option.grade)}" in text
                seen.add(stands)
    assert seen == {True, False}


@pytest.mark.parametrize(
    ("recorded", "asked", "standing"),
    [(None, True, "INDICATED"), ("absent", False, "INDICATED"), ("present", False, None)],
    ids=["unrecorded it is a check", "absent it is gone", "present it forbids"],
)
def test_an_absolute_contraindication(recorded, asked, standing, printed):
    question = "Is there infection, an ulcer or broken skin where the portals would go?"
    extra = {"portal-site-infection": recorded} if recorded else {}
    text = printed({"person": {"age": "27 a"}, "left": {**UNSTABLE, **extra}})
    assert (question in flat(text)) == asked
    heading = STANDINGS["indicated" if standing else "contraindicated"]
    assert f"\n{heading}\n  Arthroscopic lateral ligament repair" in text
    if standing is None:
        assert "Against No elective keyhole operation" in flat(text)
        assert "Recorded: Infection or broken skin at the portals" in flat(text)


def test_the_why_names_the_values_that_suffice(printed):
    text = flat(printed(DOCUMENTS["an unstable ankle"]))
    assert "Recorded: Giving way; Length of the symptoms 8 months; " in text
    assert "Anterior drawer test positive" in text


def test_what_would_settle_an_open_option_is_short_unless_all_is_asked(answer_to, printed):
    document = {"left": {"peroneal-tendon-pain": "present"}}
    options = [one for side in answer_to(document).sides.values() for one in side.options]
    longest = max(len(one.settles) for one in options)
    assert longest > 3
    assert f"; or {longest - 3} more" in flat(printed(document))
    assert not re.search(r"; or \d+ more", flat(printed(document, full=True)))


def test_the_approach_card_is_five_lines_for_what_is_indicated(printed):
    document = DOCUMENTS["a septic joint"]
    card = r"^    (Position|Portals|Scope|At risk|Aftercare) "
    assert len(re.findall(card, printed(document), re.M)) == 5
    assert len(re.findall(card, printed(document, full=True), re.M)) > 5


#: Two arthroscopic options are in play at once, and nothing general was asked.
SEVERAL = {
    "person": {"age": "40 a"},
    "left": {
        "giving-way": "present",
        "symptom-duration": "8 mo",
        "rehabilitation-duration": "12 wk",
        "anterior-drawer": "positive",
        "loose-body-on-imaging": "present",
        "locking-or-catching": "present",
    },
}


def test_a_check_of_several_options_is_printed_once_and_named_by_its_letter(answer_to, printed):
    document = SEVERAL
    options = answer_to(document).sides["left"].options
    question = "What is the ASA class (1 to 6)?"
    having = [one for one in options if question in {check.question for check in one.checks}]
    assert len(having) >= 2
    text = printed(document)
    assert flat(text).count(question) == 1
    letter = re.search(rf"^  ([A-Z]) {re.escape(question)}", text, re.M)
    assert letter
    naming = re.findall(rf"\b{letter[1]}\b[A-Z, ]* below", text)
    assert len(naming) == len(having)


@every_document
def test_at_most_eight_questions_are_asked_next_and_the_rest_is_counted(
    document, answer_to, printed
):
    text, everything = printed(document), printed(document, full=True)
    asks = re.split(r"^ASK NEXT\n", text, flags=re.M)[1:]
    for part in asks:
        numbered = re.findall(r"^  (\d+) ", part.split("\n\n")[0], re.M)
        assert len(numbered) <= 8
    for side in answer_to(document).sides.values():
        for one in side.ask:
            assert one.question in flat(everything)


def test_more_questions_than_eight_are_counted(answer_to, printed):
    document = DOCUMENTS["an acute injury"]
    asked = len(answer_to(document).sides["right"].ask)
    assert asked > 8
    assert f"and {asked - 8} more" in printed(document)


def test_a_weak_grave_rule_carries_its_caveat(answer_to, printed):
    document = DOCUMENTS["a heel letter"]
    flag = answer_to(document).sides["left"].red_flags[0]
    assert flag.because.caveat
    text = flat(printed(document))
    assert f"({flag.because.confidence}*)" in text
    assert f"* {flag.because.confidence}: {flag.because.caveat}" in text
    assert "*" not in printed(DOCUMENTS["an unstable ankle"])


@every_document
def test_no_dispute_is_told_twice(document, printed, rulebook):
    text = flat(printed(document))
    disputes = [rule.data["dispute"] for rule in rulebook.rules.values() if "dispute" in rule.data]
    for question in {flat(dispute["question"]) for dispute in disputes}:
        assert text.count(question) <= 1


def test_a_dispute_is_told_with_its_positions_in_full(printed, rulebook):
    document = DOCUMENTS["an unstable ankle"]
    rule = rulebook.rule("ankle.lateral-ligament.mechanical-instability")
    dispute = rule.data["dispute"]
    assert flat(printed(document)).count(flat(dispute["question"])) == 1
    text = flat(printed(document, full=True))
    assert all(flat(position["says"]) in text for position in dispute["positions"])


def test_a_conflict_names_both_origins(printed):
    text = flat(printed(DOCUMENTS["both sides"]))
    assert "CONFLICT: Giving way is present (/left/giving-way/0) and absent" in text
    assert "(/left/giving-way/1, 2026-10-01)" in text


def test_a_child_is_said_to_be_outside_the_scope(printed, rulebook):
    text = printed(DOCUMENTS["a child"])
    assert f"OUTSIDE THE SCOPE: {flat(rulebook.scope.statement)}" in flat(text)
    assert "\nON HOLD\n" in text


def test_an_empty_document_reassures_nobody(printed):
    text = flat(printed({}))
    assert text.startswith("ASK THE REFERRER: nothing was recorded.")
    assert "SIDE NOT SAID: nothing in play" in text
    assert "Nothing was recorded, so nothing is ruled out. Not screened" in text


def test_what_was_not_screened_is_one_line_and_not_said_twice(answer_to, printed, rulebook):
    document = DOCUMENTS["both sides"]
    sides = answer_to(document).sides
    assert sides["left"].not_screened == sides["right"].not_screened
    text = flat(printed(document))
    titles = "; ".join(rulebook.vocabulary[name].title for name in sides["left"].not_screened)
    assert text.count(f"Not screened (nothing recorded): {titles}.") == 1
    assert text.count("Not screened (nothing recorded): the same as above.") == 1


def test_what_holds_for_every_operation_is_counted_and_what_is_its_own_is_named(printed):
    document = {
        "person": {"age": "31 a"},
        "left": {
            "anterior-ankle-pain": "present",
            "anterior-palpation-pain": "present",
            "anterior-spur": "present",
            "ankle-joint-space": "normal",
            "non-operative-treatment-duration": "6 mo",
        },
    }
    assert re.search(
        r"Also ask Spur removal in .*; and \d+ more, most of them general \(--full\)",
        flat(printed(document)),
    )
    assert "Pregnancy" not in printed(document)
    assert "Pregnancy" in printed(document, full=True)


def test_a_danger_is_ruled_out_by_what_is_told_of_the_foot_not_by_age_alone(printed):
    assert "Ruled out" not in printed({"person": {"age": "51 a"}, "left": {"heel-pain": "present"}})
    told = printed({"person": {"age": "51 a"}, "left": {"growing-lump": "absent"}})
    assert "Ruled out by what is recorded: " in flat(told)


def test_a_side_that_was_not_said_is_asked(printed):
    text = printed(DOCUMENTS["worn out, side not said, skin broken"])
    assert section(text, "ASK NEXT").startswith("1 Which side is it?")


def test_the_page_ends_with_the_release_and_the_notice(printed, rulebook):
    text = flat(printed({"reference": "letter-7"}, note="A draft."))
    digest = rulebook.digest.removeprefix("sha256:")[:12]
    end = f"Release {rulebook.version} ({digest}), unsigned. Assessed 2026-11-25T09:00:00Z. "
    assert text.endswith(f"{end}A draft. Reference letter-7. {flat(rulebook.notice)}")


# -- words and citations --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("12 wk", "12 weeks"),
        ("1 wk", "1 week"),
        ("1.5 mo", "1.5 months"),
        ("27 a", "27 years"),
        ("9 deg", "9 degrees"),
        ("38.5 Cel", "38.5 degrees C"),
        ("80 mm[Hg]", "80 mmHg"),
        ("12 mm", "12 mm"),
        ("grade-4", "grade-4"),
        ("Stiff for 3 d; limps", "Stiff for 3 days; limps"),
        ("lesion 3 a b", "lesion 3 a b"),
        ("6 months", "6 months"),
    ],
)
def test_a_value_is_spoken_as_a_reader_says_it(value, said):
    assert spoken(value) == said


def clause(finding: str, truth: str, value: str = "", **more) -> dict:
    shown = {"value": value} if value else {}
    return {"finding": finding, "title": finding, "clause": "", "truth": truth, **shown, **more}


BEHIND = {"any": [clause("c", "met", "4 mm"), clause("d", "not-met", "2 mm")], "truth": "met"}


@pytest.mark.parametrize(
    ("trace", "said"),
    [
        ({"all": [clause("a", "met", "present"), clause("b", "met", "9 d")]}, ["a", "b 9 days"]),
        ({"all": [clause("a", "not-met", "absent"), clause("b", "unknown")]}, []),
        ({"not": [clause("a", "not-met", "absent")]}, ["a absent"]),
        ({"not": [clause("a", "met", "present")]}, []),
        ({"not": [{"not": [clause("a", "met", "present")]}]}, ["a"]),
        ({"at_least": 1, "of": [clause("a", "met", "3"), clause("a", "met", "3")]}, ["a 3"]),
        (clause("x", "met", clause="present", because=BEHIND), ["c 4 mm"]),
        (clause("x", "not-met", clause="absent", because=BEHIND), ["d 2 mm"]),
    ],
    ids=[
        "met clauses", "failed and unknown ones", "under not", "against not", "not not",
        "once each", "behind a derived finding", "behind one that must be absent",
    ],
)  # fmt: skip
def test_what_speaks_for_an_open_rule_is_what_was_recorded_its_way(trace, said):
    verdict = Verdict("r", 1, "indication", "", "unknown", "", {}, "verified", [], [], trace)
    assert values_so_far(verdict) == said


@pytest.mark.parametrize(
    ("direction", "said"),
    [
        ("for", "grade B for (Wright 2005)"),
        ("against", "grade B against (Wright 2005)"),
        ("none", "grade B neither for nor against (Wright 2005)"),
    ],
)
def test_a_grade_names_its_scheme(direction, said):
    grade = {"recommendation": "B", "scheme": "wright-2005", "direction": direction}
    assert grade_in_words(grade) == said
    assert not grade_in_words({})


@pytest.mark.parametrize(
    ("order", "named", "marks"),
    [
        ("abcdef", "abcdef", "[1-6]"),
        ("abcdef", "ab", "[1, 2]"),
        ("abcdef", "fabc", "[1-3, 6]"),
        ("abcdef", "aa", "[1]"),
        ("", "", ""),
        ("a", "x", ""),
    ],
)
def test_marks_are_numbers_and_runs_of_numbers(order, named, marks):
    numbered = Numbered({name: {"title": name} for name in "abcdef"})
    numbered.cite(order)
    assert numbered.cite(named) == marks


PAPER = {
    "title": "On ankles",
    "author": [{"family": "Roe", "given": "A"}, {"literal": "Ankle Group"}],
    "container-title": "J Ankle",
    "issued": {"date-parts": [[2001, 2]]},
    "volume": "3",
    "issue": "4",
    "page": "5-6",
    "DOI": "10.1000/x",
    "PMID": "12",
}


@pytest.mark.parametrize(
    ("source", "line"),
    [
        (PAPER, "Roe A et al. On ankles. J Ankle 2001. doi:10.1000/x"),
        ({"title": "A page", "URL": "https://a.example"}, "A page. https://a.example"),
        ({"title": "Why?", "PMID": "12"}, "Why? PMID 12"),
        ({"title": "Alone"}, "Alone."),
        ({"title": f"{'long ' * 30}end"}, f"{('long ' * 14).strip()}..."),
    ],
    ids=["all parts", "web page", "question", "title only", "long title"],
)
def test_a_short_reference_leaves_out_what_is_not_known(source, line):
    assert short(source) == line


def test_a_full_reference_has_every_part():
    assert full(PAPER) == (
        "Roe A, Ankle Group. On ankles. J Ankle 2001 3(4):5-6. doi:10.1000/x PMID 12"
    )
    assert full({"title": "Alone"}) == "Alone."


# -- the knowledge as pages -----------------------------------------------------------------


def written(renderable) -> str:
    stream = io.StringIO()
    show(renderable, stream)
    return stream.getvalue()


def test_a_rule_page_holds_all_a_signatory_needs(rulebook):
    for rule in rulebook.rules.values():
        text = flat(written(knowledge_pages.rule_page(rulebook, rule)))
        assert flat(rule.statement) in text
        assert flat(rule.data["rationale"]) in text
        assert f"Confidence {rule.confidence}" in text
        for name in rule.sources:
            assert f"[{name}]" in text
        for case in rule.cases:
            assert f"{flat(case.name)}: gives {case.expect} (" in text
        for name, parameter in rule.parameters.items():
            assert f"{name}: {spoken(parameter.value)} ({parameter.confidence})" in text
        assert ("Disputed" in text) == ("dispute" in rule.data)


def test_an_option_page_names_every_rule_that_speaks_of_it(rulebook):
    for option in rulebook.options.values():
        text = flat(written(knowledge_pages.option_page(rulebook, option)))
        speaking = [*rulebook.indications[option.id], *rulebook.against[option.id]]
        for rule in [*speaking, *rulebook.holding[option.id]]:
            assert rule.id in text
        assert option.summary in text


def test_the_list_of_findings_says_how_each_is_written(rulebook):
    text = flat(written(knowledge_pages.findings_page(rulebook.vocabulary)))
    for one in rulebook.vocabulary:
        assert f"{one.id} {one.kind}, {'each side' if one.sided else 'person'}" in text
        assert one.derived or flat(one.allowed()) in text


def test_the_example_on_a_findings_page_can_be_handed_in(rulebook):
    tried = 0
    for one in rulebook.vocabulary:
        text = flat(written(knowledge_pages.finding_page(rulebook, one)))
        example = re.search(r"In a document (\{.*?\}\})", text)
        assert (example is None) == one.derived
        if example:
            read = read_findings(example[1].encode(), rulebook.vocabulary)
            assert [record.id for record in read.records] == [one.id]
            assert json.loads(example[1])
            tried += 1
    assert tried > 50
