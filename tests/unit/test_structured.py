"""Is the native form read as it stands, and is everything that does not fit pointed at, at once?

What is hostile rather than mistaken is in a table of its own.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pytest

from plafond.errors import DocumentError
from plafond.findings import Finding, Origin
from plafond.intake.structured import MOST_FAULTS, findings_of, read_findings, write_findings
from plafond.rulebook import require_directory

SMALL = require_directory(Path(__file__).parents[1] / "data" / "knowledge").vocabulary


def read(data):
    return read_findings(json.dumps(data).encode(), SMALL)


def faults(data):
    with pytest.raises(DocumentError) as caught:
        read(data)
    return caught.value.faults


# -- what is read ----------------------------------------------------------------------


def test_a_document_is_read_with_a_pointer_to_each_value():
    findings = read(
        {
            "reference": "clinic:7/2026",
            "recorded": "2026-11-20",
            "left": {"knee-pain": "present", "pain-duration": {"value": 6, "unit": "weeks"}},
            "person": {"operations": 2},
        }
    )
    assert (findings.reference, findings.recorded) == ("clinic:7/2026", "2026-11-20")
    assert findings.records == (
        Finding("knee-pain", "left", "present", Origin("/left/knee-pain"), "present"),
        Finding("pain-duration", "left", Decimal(60480), Origin("/left/pain-duration"), "6 weeks"),
        Finding("operations", "person", Decimal(2), Origin("/person/operations"), "2"),
    )


def test_a_list_holds_several_values_of_one_finding_with_their_dates():
    findings = read(
        {
            "right": {
                "knee-wear": [
                    {"value": "some", "on": "2024-02-29"},
                    "severe",
                    {"value": "none"},
                ]
            }
        }
    )
    assert [(one.value, one.origin) for one in findings.records] == [
        ("some", Origin("/right/knee-wear/0", "2024-02-29")),
        ("severe", Origin("/right/knee-wear/1")),
        ("none", Origin("/right/knee-wear/2")),
    ]


@pytest.mark.parametrize(
    "raw",
    [
        "6 wk",
        "42 d",
        {"value": "6 wk"},
        {"value": 6, "unit": "wk"},
        {"value": 6.0, "unit": "wk"},
        {"value": 42, "unit": "days"},
        {"value": "6 wk", "on": "2026-01-01"},
        {"value": 6, "unit": "wk", "on": "2026-01-01"},
        ["6 wk"],
    ],
)
def test_a_quantity_may_be_written_in_many_ways(raw):
    (record,) = read({"left": {"pain-duration": raw}}).records
    assert record.value == 60480


@pytest.mark.parametrize("data", [{}, {"left": {}}, {"reference": "", "person": {}}])
def test_an_empty_document_says_nothing_and_is_no_fault(data):
    assert read(data).records == ()


def test_sides_are_read_in_one_order_whatever_the_document_has():
    findings = read(
        {
            "person": {"operations": 1},
            "unspecified": {"knee-pain": "present"},
            "right": {"knee-pain": "absent"},
            "left": {"knee-pain": "present"},
        }
    )
    assert [one.side for one in findings.records] == ["left", "right", "unspecified", "person"]


# -- what is not -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "pointer", "message", "expected"),
    [
        ([], "", "not an object", "an object with left, right or person"),
        ("left", "", "not an object", "left, right or person"),
        ({"both": {}}, "/both", "'both' is not known here", ""),
        ({"lef": {}}, "/lef", "'lef' is not known here", "did you mean left"),
        ({"left": []}, "/left", "not an object", "giving-way"),
        (
            {"left": {"knee-pian": "present"}},
            "/left/knee-pian",
            "not known",
            "did you mean knee-pain",
        ),
        ({"left": {"zzzz": "present"}}, "/left/zzzz", "not known", "list of findings"),
        ({"left": {"a/b~c": 1}}, "/left/a~1b~0c", "'a/b~c' is not known", "list of findings"),
        ({"left": {"hard-knee": "present"}}, "/left/hard-knee", "worked out, never recorded", ""),
        ({"left": {"age": "30 a"}}, "/left/age", "age belongs under person", "/person/age"),
        (
            {"person": {"knee-pain": "present"}},
            "/person/knee-pain",
            "belongs under left, right or",
            "/left/knee-pain",
        ),
        (
            {"left": {"knee-pain": "yes"}},
            "/left/knee-pain",
            "'yes' is not an answer",
            "present or absent",
        ),
        (
            {"left": {"knee-pain": True}},
            "/left/knee-pain",
            "True is not an answer",
            "present or absent",
        ),
        (
            {"left": {"knee-pain": None}},
            "/left/knee-pain",
            "None is not an answer",
            "present or absent",
        ),
        ({"left": {"knee-pain": []}}, "/left/knee-pain", "an empty list", "leave the finding out"),
        (
            {"left": {"knee-pain": ["present", 3]}},
            "/left/knee-pain/1",
            "3 is not an answer",
            "present",
        ),
        (
            {"left": {"knee-pain": [["present"]]}},
            "/left/knee-pain/0",
            "is not an answer",
            "present",
        ),
        (
            {"left": {"pain-duration": "6"}},
            "/left/pain-duration",
            "a number needs its unit",
            "such as wk",
        ),
        (
            {"left": {"pain-duration": 6}},
            "/left/pain-duration",
            "pain-duration is a quantity",
            "wk",
        ),
        (
            {"left": {"pain-duration": "6 mm"}},
            "/left/pain-duration",
            "mm is a unit of length, not of time",
            "wk",
        ),
        (
            {"left": {"pain-duration": "-1 wk"}},
            "/left/pain-duration",
            "not plausible",
            "from 0 to 5000 wk",
        ),
        (
            {"left": {"pain-duration": {"value": 6, "unit": "wk", "of": 1}}},
            "/left/pain-duration/of",
            "'of' is not known",
            "",
        ),
        (
            {"left": {"pain-duration": {"amount": 6, "unit": "wk"}}},
            "/left/pain-duration",
            "is a quantity",
            "wk",
        ),
        (
            {"person": {"operations": "2"}},
            "/person/operations",
            "operations is counted",
            "from 0 to 9",
        ),
        (
            {"person": {"operations": 2.5}},
            "/person/operations",
            "operations is counted",
            "whole number",
        ),
        (
            {"left": {"knee-pain": {"value": "present", "on": "soon"}}},
            "/left/knee-pain/on",
            "not a date",
            "2026-11-20",
        ),
        (
            {"left": {"knee-pain": {"value": "present", "on": "2026-02-30"}}},
            "/left/knee-pain/on",
            "not a date",
            "2026",
        ),
        (
            {"left": {"knee-pain": {"value": "present", "on": 20260101}}},
            "/left/knee-pain/on",
            "not a date",
            "2026",
        ),
        (
            {"left": {"knee-pain": {"value": "present", "sure": "no"}}},
            "/left/knee-pain/sure",
            "neither true nor false",
            "false",
        ),
        ({"recorded": "20-11-2026"}, "/recorded", "not a date", "2026-11-20"),
        ({"reference": "Mrs Miller"}, "/reference", "not an opaque reference", "no name"),
        ({"reference": "x" * 65}, "/reference", "not an opaque reference", "up to 64"),
        ({"reference": 7}, "/reference", "not an opaque reference", "up to 64"),
    ],
)
def test_a_fault_is_pointed_at_and_says_what_is_expected(data, pointer, message, expected):
    (fault,) = faults(data)
    assert fault.pointer == pointer
    assert message in fault.message
    assert expected in fault.expected


def test_every_fault_of_a_document_is_found_at_once():
    found = faults(
        {
            "reference": "a b",
            "both": {},
            "left": {"knee-pian": "present", "knee-wear": "bad", "age": "30 a"},
            "person": {"operations": 99},
        }
    )
    assert {one.pointer for one in found} == {
        "/reference",
        "/both",
        "/left/knee-pian",
        "/left/knee-wear",
        "/left/age",
        "/person/operations",
    }


def test_an_unknown_finding_names_the_nearest_known_ones():
    (fault,) = faults({"left": {"knee-swellin": "present"}})
    assert fault.nearest[0] == "knee-swelling"


def test_there_is_an_end_to_how_many_faults_are_named():
    assert len(faults({"left": {f"no-such-{n}": 1 for n in range(200)}})) == MOST_FAULTS


def test_the_error_says_the_first_fault_and_how_many_more():
    with pytest.raises(DocumentError, match=r"^/left/age: .*\(and 1 more\)"):
        read({"left": {"age": "30 a", "knee-pain": "yes"}})


# -- writing ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"reference": "a-1", "recorded": "2026-11-20"},
        {"left": {"knee-pain": "present", "pain-duration": "6 wk"}},
        {"left": {"knee-wear": [{"value": "some", "on": "2024-02-29"}, "severe"]}},
        {"left": {"knee-wear": ["some"]}},
        {"right": {"pain-duration": {"value": "6 months", "on": "2026-01-01"}}},
        {"person": {"operations": 0, "age": "61.5 years"}},
        {"left": {"knee-pain": {"value": "present", "sure": False}}},
        {"left": {"knee-wear": [{"value": "some", "sure": False}, "severe"]}},
        {"right": {"pain-duration": {"value": "6 wk", "on": "2026-01-01", "sure": False}}},
    ],
)
def test_what_was_read_is_written_as_it_stood(data):
    assert write_findings(read(data), SMALL) == data


@pytest.mark.parametrize(
    ("raw", "written"),
    [
        ({"value": 6, "unit": "wk"}, "6 wk"),
        ({"value": 6.50, "unit": "wk"}, "6.5 wk"),
        ({"value": "6  wk"}, "6 wk"),
        ({"value": 6.123456789, "unit": "wk"}, "6.123457 wk"),
        ({"value": 1e2, "unit": "days"}, "100 days"),
        ({"value": 6, "unit": "wk", "on": "2026-01-01"}, {"value": "6 wk", "on": "2026-01-01"}),
    ],
)
def test_a_quantity_is_written_with_its_unit_as_text(raw, written):
    findings = read({"left": {"pain-duration": raw}})
    document = write_findings(findings, SMALL)
    assert document == {"left": {"pain-duration": written}}
    assert findings_of(document, SMALL) == findings


def test_nothing_but_coded_values_dates_and_the_reference_is_written():
    findings = read(
        {"reference": "a-1", "left": {"knee-pain": {"value": "present", "on": "2026-01-01"}}}
    )
    assert set(write_findings(findings, SMALL)) == {"reference", "left"}


def test_a_record_is_sure_unless_it_says_that_it_is_not():
    for raw in ("present", {"value": "present"}, {"value": "present", "sure": True}):
        (record,) = read({"left": {"knee-pain": raw}}).records
        assert record.sure
    (record,) = read({"left": {"knee-pain": {"value": "present", "sure": False}}}).records
    assert not record.sure
