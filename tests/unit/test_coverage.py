"""Does the map of the field count what is there, and can its picture be read by anybody?"""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from plafond.governance.coverage import Count, coverage, own_rules
from plafond.governance.drawing import COLUMNS, describe, picture
from plafond.rulebook import Case, Effect, Is, Option, Target
from plafond.rulebook.rules import CONFIDENCES
from strategies import rule, rulebook_of

SVG = "{http://www.w3.org/2000/svg}"


def option(name, region="ankle", traits=("arthroscopic", "elective"), **data):
    title = f"Title of {name}"
    whole = {"id": name, "region": region, "zone": "whole", **data}
    return Option(name, title, "Made up.", traits, (), (), {}, whole)


def speaking(name, kind, cases=0, cites=(), confidence="verified", **effect):
    """Return a rule of a kind that does this, with so many cases and these sources."""
    return rule(
        name,
        Is("pain", "present"),
        kind=kind,
        effect=Effect(**effect),
        confidence=confidence,
        cases=tuple(Case(f"case {index}", {}, {}, "unknown") for index in range(cases)),
        data={"sources": [{"id": one, "supports": "it"} for one in cites]},
    )


def graded(one, recommendation, direction="for"):
    grade = {"recommendation": recommendation, "scheme": "wright-2005", "direction": direction}
    return replace(one, grade=grade)


def made():
    """Return a rulebook of four options in two regions and every kind of rule."""
    alone, both = Target(options=("repair",)), Target(options=("repair", "wash"))
    everything = Target(traits=("elective",))
    rules = [
        graded(speaking("r.one", "indication", 3, ("a", "b"), supports="repair"), "C"),
        graded(speaking("r.two", "indication", 2, ("b",), "secondary", supports="repair"), "B"),
        graded(speaking("r.against", "indication", 1, (), supports="wash"), "B", "against"),
        graded(speaking("r.for", "indication", 1, (), supports="wash"), "B"),
        speaking("r.never", "contraindication", 4, ("c",), target=alone, strength="absolute"),
        speaking("r.not", "contraindication", 5, ("d",), target=everything, strength="absolute"),
        speaking("r.later", "contraindication", 1, (), target=everything, strength="relative"),
        speaking("r.mind", "caution", 1, (), "memory", target=both),
        speaking("r.flag", "red-flag", 6, (), "judgement", target=everything),
        speaking("r.hold", "red-flag", 2, ("e",), target=alone),
        speaking("r.free", "red-flag", 1),
    ]
    options = [
        option("repair", approach={"portals": [{"says": "two", "cites": "f"}]}),
        option("wash", traits=("arthroscopic",)),
        option("rest", traits=()),
        option("release", region="tendon"),
    ]
    book = rulebook_of({}, rules)
    return replace(book, options={one.id: one for one in options})


@pytest.fixture(scope="module")
def covered():
    return coverage(made())


def row(covered, name):
    return next(one for one in covered.rows if one.id == name)


def test_an_option_is_counted_with_its_own_rules_and_those_that_reach_it_by_traits(covered):
    found = row(covered, "repair")
    assert found.indications == 2
    assert found.absolute == Count(own=1, shared=1)
    assert found.absolute.total == 2
    assert found.relative == Count(own=0, shared=1)
    assert found.cautions == Count(own=1, shared=0)
    assert found.red_flags == Count(own=1, shared=1)
    assert found.cases == 3 + 2 + 4 + 1 + 2, "cases of rules that reach it by traits are no own"
    assert found.sources == len({"a", "b", "c", "e", "f"})
    assert (found.region, found.zone, found.arthroscopic) == ("ankle", "whole", True)


def test_the_best_grade_is_shown_with_its_direction(covered):
    assert (row(covered, "repair").grade, row(covered, "repair").direction) == ("B", "for")
    assert (row(covered, "wash").grade, row(covered, "wash").direction) == ("B", "for")
    assert (row(covered, "release").grade, row(covered, "release").direction) == ("", "")


def test_the_weakest_confidence_is_that_of_the_own_rules(covered):
    assert row(covered, "wash").confidence == "memory"
    assert row(covered, "repair").confidence == "memory", "not the judgement that reaches it"
    assert row(covered, "rest").confidence == ""


def test_rows_stand_by_region_and_keyholes_stand_first(covered):
    assert [one.id for one in covered.rows] == ["repair", "wash", "rest", "release"]


def test_a_region_counts_each_rule_and_source_once(covered):
    ankle, tendon = covered.regions
    assert (ankle.name, ankle.options, ankle.arthroscopic) == ("ankle", 3, 2)
    assert ankle.rules == 7
    assert ankle.cases == 3 + 2 + 1 + 1 + 4 + 1 + 2
    assert ankle.sources == 5
    assert (tendon.name, tendon.options, tendon.rules, tendon.sources) == ("tendon", 1, 0, 0)


def test_what_there_is_in_all_is_counted_too(covered):
    assert dict(covered.kinds) == {
        "indication": 4, "contraindication": 3, "caution": 1, "red-flag": 3, "derivation": 0,
    }  # fmt: skip
    assert (covered.rules, covered.cases) == (11, 27)


# -- the picture --------------------------------------------------------------------------


def parts(covered, tag):
    return ElementTree.fromstring(picture(covered)).iter(SVG + tag)


def texts(covered):
    return ["".join(one.itertext()) for one in parts(covered, "text")]


def test_the_picture_says_in_words_and_numbers_everything_it_draws(covered):
    said = texts(covered)
    for one in covered.rows:
        assert any(text.startswith(one.title) for text in said)
    assert "ankle: 3 options, 2 by keyhole" in said
    at = said.index("Title of repair")
    cells = said[at + 1 : at + 1 + len(COLUMNS)]
    assert cells == ["2", "2", "1", "1", "2", "5", "12", "B", "memory"]


def test_the_picture_has_a_title_and_a_description_that_name_it(covered):
    root = ElementTree.fromstring(picture(covered))
    assert root.get("role") == "img"
    named = [
        next(one for one in root if one.get("id") == name)
        for name in (root.get("aria-labelledby") or "").split()
    ]
    assert [one.tag for one in named] == [SVG + "title", SVG + "desc"]
    assert named[1].text == describe(covered)
    assert "tendon: 1 options, 0 rules" in (named[1].text or "")
    assert "wanted there: Title of wash, Title of rest, Title of release" in (named[1].text or "")


def test_a_gap_is_framed_and_not_only_coloured(covered):
    frames = [one for one in parts(covered, "rect") if one.get("class") == "gap"]
    # wash: nothing against it, no source; rest: no rule, source, case; release: those three too
    assert len(frames) == 2 + 3 + 3
    assert "stroke-dasharray" in picture(covered)


def test_a_bar_is_as_long_as_its_number_is_large(covered):
    bars = [one for one in parts(covered, "rect") if one.get("class") == "bar"]
    rails = [one for one in parts(covered, "rect") if one.get("class") == "rail"]
    share = {
        (bar.get("x"), bar.get("y")): float(bar.get("width") or 0) / float(rail.get("width") or 1)
        for bar, rail in zip(bars, rails, strict=True)
    }
    sources = sorted({x for x, _ in share}, key=float)[5]
    (full,) = [value for (x, _), value in share.items() if x == sources]
    assert full == 1.0, "of four options one has sources; the others are gaps"
    assert all(0 <= value <= 1 for value in share.values())


def luminance(colour):
    parts_of = [int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts_of]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, two):
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_and_bars_stand_out_in_light_and_dark(covered):
    """WCAG 2.1: 4.5 to 1 for text, 3 to 1 for what is drawn (success criteria 1.4.3, 1.4.11)."""
    (style,) = (one.text or "" for one in parts(covered, "style"))
    light, dark = style.split("@media (prefers-color-scheme: dark)")
    for sheet in (light, dark):
        colours = {
            name: colour if len(colour) == 7 else "#" + "".join(one * 2 for one in colour[1:])
            for name, colour in re.findall(r"\.(\w+)\{(?:fill|stroke):(#\w+)", sheet)
        }
        for ground in ("ground", "band"):
            assert contrast(colours["ink"], colours[ground]) >= 4.5
            assert contrast(colours["soft"], colours[ground]) >= 4.5
        assert contrast(colours["bar"], colours["ground"]) >= 3


def test_no_title_can_break_the_picture(covered):
    nasty = replace(covered.rows[0], title='<script>&"]]>')
    broken = replace(covered, rows=(nasty, *covered.rows[1:]))
    assert "<script" not in picture(broken)
    assert any('<script>&"]]>' in text for text in texts(broken))


def test_a_long_title_is_cut_and_kept_whole_beside(covered):
    long = replace(covered.rows[0], title="A title that goes on " * 5)
    longer = replace(covered, rows=(long, *covered.rows[1:]))
    (shown,) = [text for text in texts(longer) if text.startswith("A title")]
    assert shown.endswith("...")
    assert any(one.text == long.title for one in parts(longer, "title"))


def test_nothing_lies_outside_the_picture(covered):
    root = ElementTree.fromstring(picture(covered))
    _, _, width, height = map(float, (root.get("viewBox") or "").split())
    for one in root.iter():
        if one.tag in (SVG + "rect", SVG + "text"):
            assert 0 <= float(one.get("x", 0)) + float(one.get("width", 0)) <= width
            assert 0 <= float(one.get("y", 0)) + float(one.get("height", 0)) <= height


def test_an_empty_rulebook_has_an_empty_map():
    empty = coverage(rulebook_of({}, []))
    assert (empty.rows, empty.regions, empty.rules) == ((), (), 0)
    assert list(parts(empty, "g")) == []


# -- the knowledge ------------------------------------------------------------------------


def test_the_map_of_the_knowledge_adds_up(rulebook, measured):
    covered = coverage(rulebook)
    assert {one.id for one in covered.rows} == set(rulebook.options)
    assert sum(one.options for one in covered.regions) == len(covered.rows)
    assert sum(count for _, count in covered.kinds) == covered.rules == len(rulebook.rules)
    for one in covered.rows:
        chosen = rulebook.options[one.id]
        against = rulebook.against[one.id]
        assert one.indications == len(rulebook.indications[one.id])
        assert one.absolute.total + one.relative.total + one.cautions.total == len(against)
        assert one.red_flags.total == len(rulebook.holding[one.id])
        own = own_rules(rulebook, chosen)
        assert len({rule.id for rule in own}) == len(own)
        assert all(
            CONFIDENCES.index(rule.confidence) <= CONFIDENCES.index(one.confidence) for rule in own
        )
    measured(
        f"map: {len(covered.rows)} options, {covered.rules} rules, {covered.cases} cases, "
        f"{len(picture(covered))} bytes of picture"
    )


def test_the_same_rulebook_gives_the_same_picture(rulebook):
    assert picture(coverage(rulebook)) == picture(coverage(rulebook))
