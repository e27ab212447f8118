"""Does each kind of modifier reach what it speaks of, and nothing beyond?"""

from __future__ import annotations

import pytest

TABLE = {
    "denied": [
        ("No fever.", {"fever absent"}),
        ("There is no redness or fever.", {"redness absent", "fever absent"}),
        ("No fever but redness.", {"fever absent", "redness present"}),
        ("She denies locking; fever is present.", {"locking absent", "fever present"}),
        ("Nil redness, nil fever.", {"redness absent", "fever absent"}),
        ("The ankle is not swollen or stiff.", {"swelling absent", "stiffness absent"}),
        ("Fever: nil. Redness: none.", {"fever absent", "redness absent"}),
        ("A fracture was not seen.", {"fracture absent"}),
        ("Infection has been ruled out.", {"infection absent"}),
        ("The ankle: no rest pain.", {"pain absent uncertain"}),
        ("The ankle: no obvious swelling or pain.", {"swelling absent", "pain absent"}),
        ("No ankle swelling and giving way.", {"swelling absent", "giving-way absent"}),
        ("No fracture and the ankle is stiff.", {"fracture absent", "stiffness present"}),
        ("No fever apart from redness.", {"fever absent", "redness present"}),
        ("No fever, she has redness.", {"fever absent", "redness present"}),
        ("She does not smoke. Smoker: no.", {"smoker absent"}),
        ("The scan excludes a fracture.", {"fracture absent"}),
        ("No diabetes, rheumatoid arthritis or neuropathy.",
         {"diabetes absent", "rheumatoid absent", "neuropathy absent"}),
    ],
    "denied, in other shapes": [
        ("The ankle is not tender, swollen or stiff.", {"swelling absent", "stiffness absent"}),
        ("Denies locking, ?DVT.", {"locking absent", "dvt present uncertain"}),
        ("Diabetes: N/K. Smoker: N", {"smoker absent"}),
        ("Diabetes (no), DVT (yes).", {"diabetes absent", "dvt present"}),
        ("A fracture cannot be seen.", {"fracture absent"}),
        ("I doubt infection.", {"infection absent uncertain"}),
    ],
    "a list without its or is doubted, never denied outright": [
        ("No redness, fever, locking.",
         {"redness absent", "fever absent uncertain", "locking absent uncertain"}),
    ],
    "looks like a denial": [
        ("No change in ankle pain.", {"pain present"}),
        ("No improvement in the swelling of the ankle.", {"swelling present"}),
        ("Not only fever but redness too.", {"fever present", "redness present"}),
        ("The redness has absent sensation.", {"redness present"}),
        ("Redness absent today.", {"redness absent"}),
        ("She tries not to limp.", {"limp present"}),
        ("No relief from the injection.", {"injection present"}),
        ("The redness has not settled.", {"redness present"}),
    ],
    "doubted": [
        ("?fracture", {"fracture present uncertain"}),
        ("? fracture of the fibula", {"fracture present uncertain"}),
        ("Could this be septic arthritis?", {"infection present uncertain"}),
        ("Possible infection.", {"infection present uncertain"}),
        ("Cannot rule out a DVT.", {"dvt present uncertain"}),
        ("A fracture cannot be excluded.", {"fracture present uncertain"}),
        ("To exclude a DVT.", {"dvt present uncertain"}),
        ("I am concerned about infection.", {"infection present uncertain"}),
        ("DVT is unlikely.", {"dvt absent uncertain"}),
        ("Redness and a possible fracture.", {"redness present", "fracture present uncertain"}),
        ("May have a stress fracture.", {"stress-fracture present uncertain"}),
    ],
    "past": [
        ("Previous DVT.", {"dvt present historical"}),
        ("h/o DVT", {"dvt present historical"}),
        ("No history of DVT.", {"dvt absent"}),
        ("No previous DVT.", {"dvt absent"}),
        ("He had a DVT in 2015.", {"dvt present historical"}),
        ("Ankle fracture as a child.", {"fracture present historical", "old-fracture present"}),
        ("An ankle fracture in 2012.", {"fracture present historical", "old-fracture present"}),
        ("Ankle pain since a fall in 1998.", {"pain present"}),
        ("Stiff ankle since a fracture in 1998.",
         {"stiffness present", "fracture present historical", "old-fracture present"}),
        ("Steroid injection in 2021.", {"injection present"}),
        ("6 month history of ankle pain.", {"pain present", "duration 6 mo"}),
        ("gives a history of locking", {"locking present"}),
        ("PMH: DVT, diabetes", {"dvt present historical", "diabetes present"}),
        ("History of DVT, now redness.", {"dvt present historical", "redness present"}),
        ("X-ray 2019: fracture", {"fracture present"}),
    ],
    "over": [
        ("Redness has settled.", {"redness present resolved"}),
        ("The fever resolved but redness persists.", {"fever present resolved", "redness present"}),
        ("There was redness and fever but this has now resolved.",
         {"redness present resolved", "fever present resolved"}),
        ("The foot ulcer healed.", {"ulcer present resolved"}),
        ("She no longer has locking.", {"locking present resolved"}),
        ("ex-smoker", {"smoker present resolved"}),
    ],
    "planned, feared or hoped": [
        ("If he develops fever he will return.", {"fever present hypothetical"}),
        ("She may benefit from a steroid injection.", {"injection present hypothetical"}),
        ("Plan: steroid injection", {"injection present hypothetical"}),
        ("At risk of infection.", {"infection present hypothetical"}),
        ("Allergies: prednisolone", {"prednisolone present hypothetical"}),
        ("He declined a steroid injection.", {"injection present hypothetical"}),
        ("Sent home with advice re DVT.", {"dvt present hypothetical"}),
        ("Safety-netted for DVT.", {"dvt present hypothetical"}),
        ("He would like to run without ankle pain.", {"pain absent hypothetical"}),
    ],
    "somebody else's": [
        ("Her mother has rheumatoid arthritis.", {"rheumatoid present other-person"}),
        ("Family history of DVT.", {"dvt present other-person"}),
        ("FH: diabetes", {"diabetes present other-person"}),
        ("His father had a DVT and he has fever.", {"dvt present other-person", "fever present"}),
        ("Her sister is lame and has diabetes.", {"diabetes present other-person"}),
        ("A mother of two with diabetes.", {"diabetes present"}),
        ("His wife noticed redness.", {"redness present"}),
        ("Mum reports fever.", {"fever present"}),
        ("Diabetes runs in the family.", {"diabetes present other-person"}),
    ],
}  # fmt: skip
ROWS = [(kind, *row) for kind, rows in TABLE.items() for row in rows]


@pytest.mark.parametrize(
    ("text", "expected"),
    [row[1:] for row in ROWS],
    ids=[f"{kind}: {text}" for kind, text, _ in ROWS],
)
def test_a_modifier_reaches_what_it_speaks_of(said, text, expected):
    assert said(text) == expected


def test_what_reached_a_finding_is_named(read):
    (mention,) = read("No evidence of a fracture.").mentions
    assert mention.rules == ("fracture/fracture", "negation.none-of")
