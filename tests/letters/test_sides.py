"""Is each finding on the side the letter says, and on none where it does not say?"""

from __future__ import annotations

import pytest

TABLE = [
    ("Left ankle pain.", {"pain left present"}),
    ("Pain in the right ankle.", {"pain right present"}),
    ("Pain over the lateral aspect of the left ankle.", {"pain left present"}),
    ("Ankle pain (L).", {"pain left present"}),
    ("Ankle pain - right.", {"pain right present"}),
    ("Drawer ++ R vs L.", {"drawer right positive"}),
    ("Seen by Dr R Smith and J. L. Brown. Ankle pain.", {"pain present"}),
    ("R ankle painful.", {"pain right present"}),
    ("r ankle painful", {"pain right present"}),
    ("Rt ankle painful, lt ankle stiff.", {"pain right present", "stiffness left present"}),
    ("Pain and swelling of the left ankle.", {"pain left present", "swelling left present"}),
    ("Left ankle pain and swelling. Right ankle stiff.",
     {"pain left present", "swelling left present", "stiffness right present"}),
    ("Both ankles are swollen.", {"swelling left present", "swelling right present"}),
    ("Bilateral ankle pain.", {"pain left present", "pain right present"}),
    ("No swelling in either ankle.", {"swelling left absent", "swelling right absent"}),
    ("Ankle pain L > R.", {"pain left present", "pain right present"}),
    ("Drawer positive on the left, negative on the right.",
     {"drawer left positive", "drawer right negative"}),
    ("Anterior drawer and talar tilt positive on the right and negative on the left.",
     {"drawer right positive", "drawer left negative",
      "tilt right positive", "tilt left negative"}),
    ("Positive Tinel's on the left, negative on the right.",
     {"tinel left positive", "tinel right negative"}),
    ("Both drawer and tilt were negative on the right but positive on the left.",
     {"drawer right negative", "tilt right negative",
      "drawer left positive", "tilt left positive"}),
    ("R) ankle pain, L) ankle stiff", {"pain right present", "stiffness left present"}),
    ("MRI L ankle: no fracture. MRI R ankle: fracture.",
     {"fracture left absent", "fracture right present"}),
    ("Ankle pain on the left side since an injury on the right side.", {"pain left present"}),
    ("Drawer: right positive, left negative.", {"drawer right positive", "drawer left negative"}),
    ("Anterior drawer positive on the right compared with the left.", {"drawer right positive"}),
    ("The right ankle is more swollen than the left.", {"swelling right present"}),
    ("On the left, drawer is positive and tilt negative. On the right the ankle is stiff.",
     {"drawer left positive", "tilt left negative", "stiffness right present"}),
    ("Left ankle shows swelling, redness and stiffness. The right ankle is painful.",
     {"swelling left present", "redness left present", "stiffness left present",
      "pain right present"}),
    # never through a comma list
    ("Foot ulcer, left leg cellulitis. The right ankle is stiff.",
     {"ulcer present", "cellulitis left present", "stiffness right present"}),
    ("Left leg cellulitis, foot ulcer. The right ankle is stiff.",
     {"cellulitis left present", "ulcer present", "stiffness right present"}),
    ("A foot ulcer and left leg cellulitis. The right ankle is stiff.",
     {"ulcer present", "cellulitis left present", "stiffness right present"}),
    ("No ankle pain on R. Redness.", {"pain right absent", "redness right present"}),
    # a side's name that is none
    ("She left the ward. Right handed. Ankle pain.", {"pain present"}),
    ("He was left with ankle pain.", {"pain present"}),
    ("The ankle is swollen right now.", {"swelling present"}),
    # headings
    ("Right ankle\nSwollen and stiff.\n\nLeft ankle\nRedness.",
     {"swelling right present", "stiffness right present", "redness left present"}),
    ("Right ankle: swollen, stiff.\nLeft ankle: redness.",
     {"swelling right present", "stiffness right present", "redness left present"}),
    # what one line says of a side holds for that line only
    ("Left ankle: redness.\nRight ankle: swollen.\nNo cellulitis.",
     {"redness left present", "swelling right present", "cellulitis absent"}),
    # the letter's single side, at a lower rank
    ("Right ankle pain. The ankle is swollen.", {"pain right present", "swelling right present"}),
    ("Right ankle pain. Left hip replacement. The ankle is swollen.",
     {"pain right present", "swelling right present"}),
    ("Right ankle pain. Left ankle stiff. There is redness.",
     {"pain right present", "stiffness left present", "redness present"}),
    # a side that is only said to be well is none the letter speaks of
    ("Right ankle pain. Left ankle fine. There is redness.",
     {"pain right present", "redness right present"}),
    ("Left ankle - swollen, stiff. Right ankle normal.",
     {"swelling left present", "stiffness left present"}),
    ("Left ankle - swollen, stiff. Right ankle painful.",
     {"swelling left present", "stiffness left present", "pain right present"}),
    # a person's finding has none
    ("Left leg DVT.", {"dvt present"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TABLE, ids=[text for text, _ in TABLE])
def test_a_side_is_the_one_that_is_told(said, text, expected):
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("Left ankle pain.", "side:phrase"),
        ("Left ankle\nThere is redness.", "side:heading"),
        ("Left ankle sprain. There is redness.", "side:letter"),
        ("Sign\tLeft\tRight\nDrawer\tpositive\t-", "side:table"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_a_side_names_its_rule(read, text, rule):
    (mention,) = read(text).mentions
    assert mention.side == "left"
    assert mention.rules[-1] == rule
