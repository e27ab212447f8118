"""Is the answer to a small letter about one problem short, and about that problem?

Twenty letters of a few facts each, one a problem. Nothing may be listed, asked about as a danger or
set aside that belongs to another part of the foot; and the page, 80 columns wide, stays under a
number of lines that was measured and then rounded up.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from plafond.views.terminal.layout import show
from plafond.views.terminal.page import page

WIDTH = 80
#: Most lines of a page: of a chronic problem, of one with two operations to choose from, and of a
#: fresh injury, where films are asked about too. Measured 65 to 122, 140, and 166 to 172.
CHRONIC, TWO_CHOICES, FRESH = 130, 160, 190


@dataclass(frozen=True)
class Letter:
    """A letter: its facts, how the ids of the options that belong to it begin, and its limits.

    `flags` are how the ids of red flags may begin; `lines` is the most the page may have.
    """

    problem: str
    facts: Mapping[str, Any]
    options: tuple[str, ...]
    lines: int
    flags: tuple[str, ...] = ()


PERSON = {"age": "38 a", "diabetes": "absent", "smoking": "never"}
RUPTURE = ("red-flags.achilles-rupture.", "tendon.achilles.")
FAILED = {"non-operative-measures-failed": "present"}
LETTERS = [
    Letter("retrocalcaneal bursitis", {"retrocalcaneal-pain": "present",
           "retrocalcaneal-bursitis": "present", **FAILED},
           ("calcaneoplasty", "achilles-loading"), CHRONIC),
    Letter("insertional Achilles disease", {"insertional-achilles-pain": "present",
           "insertional-achilles-disease": "present", **FAILED}, ("achilles-",), CHRONIC),
    Letter("midportion Achilles disease", {"midportion-achilles-pain": "present",
           "achilles-disease-on-imaging": "present", **FAILED}, ("achilles-",), CHRONIC),
    Letter("fresh Achilles rupture", {"sudden-achilles-pain": "present",
           "achilles-calf-squeeze": "positive", "matles-test": "positive",
           "time-since-injury": "2 d"}, ("achilles-",), FRESH,
           (*RUPTURE, "red-flags.fracture.")),
    Letter("os trigonum", {"posterior-ankle-pain": "present", "os-trigonum-or-stieda": "present",
           "hyperplantarflexion-test": "positive", **FAILED}, ("posterior-",), CHRONIC),
    Letter("triggering big toe", {"hallux-triggering": "present",
           "fhl-trouble-on-imaging": "present"}, ("fhl-",), CHRONIC),
    Letter("sinus tarsi", {"sinus-tarsi-pain": "present", "sinus-tarsi-injection-relief": "present",
           **FAILED}, ("sinus-tarsi-",), CHRONIC),
    Letter("subtalar arthritis", {"subtalar-pain": "present", "subtalar-arthritis": "present",
           "subtalar-injection-relief": "present", **FAILED}, ("subtalar-",), CHRONIC),
    Letter("broken heel bone", {"calcaneal-fracture": "present", "sanders-type": "type-2b",
           "posterior-facet-step": "3 mm", "time-since-injury": "5 d"},
           ("calcaneal-fracture-",), FRESH,
           ("hindfoot.calcaneal-fracture.", "red-flags.fracture.",
            "red-flags.hindfoot-trauma.")),
    Letter("stiff big toe", {"first-mtp-pain": "present", "hallux-rigidus": "present",
           "hallux-rigidus-grade": "grade-2", **FAILED}, ("first-mtp-",), CHRONIC),
    Letter("sesamoid", {"sesamoid-pain": "present", "sesamoid-disease-on-imaging": "present",
           **FAILED}, ("first-mtp-",), CHRONIC),
    Letter("peroneal tendons", {"peroneal-tendon-pain": "present",
           "peroneal-tenosynovitis": "present", "non-operative-treatment-duration": "5 mo"},
           ("peroneal-",), CHRONIC),
    Letter("snapping peroneal tendons", {"peroneal-snapping": "present", **FAILED}, ("peroneal-",),
           CHRONIC, ("tendon.peroneal.",)),
    Letter("tibialis posterior", {"tibialis-posterior-pain": "present",
           "tibialis-posterior-tenosynovitis": "present", **FAILED},
           ("tibialis-posterior-", "planovalgus-"), CHRONIC, ("tendon.tibialis-posterior.",)),
    Letter("tight calf", {"calf-overload-complaint": "present",
           "silfverskiold-test": "gastrocnemius-only", **FAILED},
           ("gastrocnemius-", "calf-"), CHRONIC),
    Letter("giving way", {"giving-way": "present", "anterior-drawer": "positive",
           "rehabilitation-duration": "14 wk", "symptom-duration": "10 mo"},
           ("ankle-lateral-ligament-", "ankle-functional-"), CHRONIC),
    Letter("talar lesion", {"talar-lesion-on-imaging": "present", "ankle-pain": "present",
           "lesion-area": "80 mm2", "non-operative-treatment-duration": "6 mo"},
           ("talus-",), CHRONIC),
    Letter("front spur", {"anterior-ankle-pain": "present", "anterior-palpation-pain": "present",
           "anterior-spur": "present", "ankle-joint-space": "normal",
           "non-operative-treatment-duration": "6 mo"},
           ("ankle-bony-", "ankle-soft-tissue-"), TWO_CHOICES),
    Letter("rheumatoid ankle", {"ankle-synovitis": "present", "inflammatory-arthritis": "present",
           "ankle-synovitis-cause": "inflammatory", "ankle-pain": "present",
           "synovitis-drug-treatment-failed": "present", "larsen-grade": 2},
           ("ankle-synovectomy", "systemic-treatment-"), CHRONIC),
    Letter("high ankle sprain", {"syndesmosis-injury-suspected": "present",
           "syndesmosis-grade": "grade-2", "syndesmosis-squeeze-test": "positive",
           "time-since-injury": "7 d"}, ("syndesmosis-",), FRESH, ("red-flags.fracture.",)),
]  # fmt: skip
every_letter = pytest.mark.parametrize("letter", LETTERS, ids=[one.problem for one in LETTERS])


def lines_of(told, release, monkeypatch) -> int:
    monkeypatch.setenv("COLUMNS", str(WIDTH))
    stream = io.StringIO()
    show(page(told.whole, release.rulebook), stream)
    return stream.getvalue().count("\n")


@every_letter
def test_nothing_is_listed_or_set_aside_that_is_not_of_the_problem(tell, letter):
    told = tell(PERSON | letter.facts)
    named = [one.option for one in (*told.side.options, *told.side.set_aside)]
    assert told.side.options, "a letter about one problem has an option"
    assert [one for one in named if not one.startswith(letter.options)] == []


@every_letter
def test_no_danger_is_thought_of_that_is_not_of_the_problem(tell, letter):
    told = tell(PERSON | letter.facts)
    assert [one.rule for one in told.side.red_flags if not one.rule.startswith(letter.flags)] == []


@every_letter
def test_nothing_is_asked_for_an_option_of_another_part(tell, letter):
    for ask in tell(PERSON | letter.facts).side.ask:
        for purpose in ask.for_:
            ours = (*letter.options, *letter.flags, "red-flags.", "general.")
            assert purpose.startswith(ours), (ask.finding, purpose)


@every_letter
def test_the_page_is_short(tell, release, letter, monkeypatch, measured):
    lines = lines_of(tell(PERSON | letter.facts), release, monkeypatch)
    measured(f"page of {letter.problem}: {lines} lines of {WIDTH} columns")
    assert lines <= letter.lines


def test_twenty_letters_speak_of_every_region(tell, release):
    regions = {
        release.rulebook.options[one.option].data["region"]
        for letter in LETTERS
        for one in tell(PERSON | letter.facts).side.options
    }
    assert len(LETTERS) == 20
    assert regions == {"ankle", "hindfoot", "forefoot", "tendon"}
