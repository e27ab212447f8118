"""A small vocabulary of its own, and invented letters, for the tests of the letter reader.

So a test of the reader fails when reading breaks, not when somebody rewords a finding. The
modifiers are those of the knowledge.
"""

from __future__ import annotations

from datetime import date
from functools import cache

from plafond.intake.letter import Letter, Lexicon
from plafond.rulebook import Modifier, read_directory
from plafond.rulebook.letters import modifiers_of, wording_of
from plafond.settings import default_knowledge
from plafond.vocabulary import Definition, Vocabulary

WRITTEN = date(2026, 3, 2)


def sided(name, *phrases, kind="presence", values=("present", "absent"), **more):
    return finding(name, *phrases, kind=kind, values=values, is_sided=True, **more)


def person(name, *phrases, **more):
    return finding(name, *phrases, is_sided=False, **more)


def finding(
    name, *phrases, kind="presence", values=("present", "absent"), is_sided=True, unit="",
    high=100_000_000, low=0, converts="", **letter,
):  # fmt: skip
    values = values if kind in ("presence", "choice") else ()
    return Definition(
        id=name, title=name, kind=kind, sided=is_sided, group="test", values=values, unit=unit,
        low=low, high=high, converts=converts, phrases=phrases, letter=wording_of(letter),
    )  # fmt: skip


def signed(name, *phrases, **more):
    return sided(name, *phrases, kind="choice", values=("negative", "positive"), **more)


FINDINGS = (
    sided("pain", "ankle pain", "painful ankle", at={"ankle": ["pain", "painful", "sore"]}),
    sided("swelling", "ankle swelling", at={"ankle": ["swelling", "swollen", "oedema"]}),
    sided("back-pain", "low back pain"),
    sided("heel-pain", "heel pain", at={"heel": ["pain"]}),
    sided("chest-pain", "chest pain"),
    sided("fracture", "fracture", "fractures", "fractured", past="old-fracture",
          not_in=["stress fracture"]),
    sided("old-fracture", "previous ankle fracture", chronic=True),
    sided("stress-fracture", "stress fracture"),
    sided("giving-way", "giving way", "gives way", "instability"),
    sided("locking", "locking", "locks"),
    sided("stiffness", "stiffness", "stiff"),
    sided("redness", "redness", "erythema"),
    sided("infection", "infection", "septic arthritis"),
    sided("cellulitis", "cellulitis"),
    sided("ulcer", "foot ulcer", "ulcer"),
    sided("coalition", "coalition"),
    sided("tender", "tender ATFL", "ATFL tender"),
    sided("limp", "limp", absent=["walks normally"]),
    sided("injection", "steroid injection", "injection", chronic=True),
    sided("lesion", "osteochondral lesion", "lesion",
          dimensions=["lesion-coronal", "lesion-sagittal", "lesion-depth"]),
    sided("lump", "lump", largest="lump-size"),
    sided("neuroma", variants=["neurona"], abbreviations={"MN": ["forefoot", "web space"]}),
    person("fever", "fever"),
    person("dvt", "DVT", "deep vein thrombosis"),
    person("diabetes", "diabetes", chronic=True),
    person("rheumatoid", "rheumatoid arthritis", abbreviations={"RA": []}),
    person("smoker", "smoker"),
    person("prednisolone", "prednisolone", exact=True),
    person("neuropathy", "neuropathy"),
    signed("drawer", "anterior drawer", "drawer", abbreviations={"AD": ["ankle", "laxity"]},
           results={"positive": ["lax"], "negative": ["solid"]}),
    signed("tilt", "talar tilt", "tilt"),
    signed("squeeze", "squeeze test"),
    signed("tinel", "Tinel", "Tinel sign"),
    signed("thompson", "Thompson test"),
    sided("kl", "Kellgren-Lawrence", "KL", kind="choice",
          values=("grade-0", "grade-1", "grade-2", "grade-3", "grade-4")),
    sided("weber", "Weber", kind="choice", values=("type-a", "type-b", "type-c")),
    sided("sanders", "Sanders", kind="choice", values=("type-1", "type-2a", "type-2b", "type-3")),
    sided("space", "joint space", kind="choice", values=("normal", "narrowed", "lost"),
          says={"lost": ["bone on bone"]}, results={"narrowed": ["reduced"]}),
    sided("arthritis", "ankle arthritis", kind="choice",
          values=("none", "mild", "moderate", "end-stage"), results={"end-stage": ["severe"]}),
    sided("duration", "symptoms", kind="quantity", unit="mo",
          measure={"times": ["for", "history", "since"], "beside": ["pain", "instability"]}),
    sided("since-injury", "injury", kind="quantity", unit="d",
          measure={"times": ["ago", "after"], "beside": ["sprain", "twisted"]}),
    sided("physio", "physio", "physiotherapy", kind="quantity", unit="wk",
          measure={"times": ["of", "for"]}),
    sided("lesion-coronal", "coronal length", kind="quantity", unit="mm", high=40),
    sided("lesion-sagittal", "sagittal length", kind="quantity", unit="mm", high=40),
    sided("lesion-depth", "depth", kind="quantity", unit="mm", high=40),
    sided("lump-size", "size of the lump", kind="quantity", unit="cm", high=600),
    sided("dorsiflexion", "dorsiflexion", kind="quantity", unit="deg", low=-40, high=60),
    sided("tilt-angle", "talar tilt angle", kind="quantity", unit="deg", high=45,
          measure={"bare": True}),
    sided("abpi", "ABPI", kind="quantity", unit="1", high=3),
    person("hba1c", "HbA1c", kind="quantity", unit="mmol/mol", low=20, high=200, converts="hba1c"),
    person("bmi", "BMI", kind="quantity", unit="kg/m2", low=8, high=100, measure={"bare": True}),
    person("weight", "weighs", "weight", kind="quantity", unit="kg", high=400),
    person("age", kind="quantity", unit="a", high=63_115_200, measure={"times": ["age"]}),
    person("beighton", "Beighton", "Beighton score", kind="count", high=9),
)  # fmt: skip


@cache
def modifiers() -> tuple[Modifier, ...]:
    """Return the modifiers of the knowledge."""
    knowledge, _ = read_directory(default_knowledge())
    return tuple(one for source in knowledge.letters for one in modifiers_of(source.data))


@cache
def small_lexicon() -> Lexicon:
    """Return the small vocabulary under the modifiers of the knowledge."""
    return Lexicon.build(Vocabulary({one.id: one for one in FINDINGS}), modifiers())


def lines(letter: Letter) -> set[str]:
    """Return every mention as one line: finding, side, value, status where it is not stated."""
    found = set()
    for one in letter.mentions:
        side = {"unspecified": "", "person": ""}.get(one.side, one.side)
        status = "" if one.status == "stated" else one.status
        fuzzy = "fuzzy" if one.match == "fuzzy" else ""
        found.add(" ".join(filter(None, (one.finding, side, one.value, status, fuzzy))))
    return found


#: Invented letters, in several hands. Between `%%` stand parts whose order does not matter.
LETTERS = {
    "a general practitioner's": """\
Thank you for seeing this 34-year-old teacher who presents with an 18 month history of right ankle
pain and giving way following a sprain. She denies any locking. There is no history of DVT. She is
a smoker. She has had 12 weeks of physiotherapy without benefit. Her mother has rheumatoid
arthritis.
%%
On examination there is swelling over the lateral ankle. Anterior drawer is positive compared with
the left side, where it is stable. Talar tilt negative. Squeeze test -ve. No redness or fever.
%%
MRI right ankle (12/12/2025): osteochondral lesion of the medial talar dome measuring 11 x 8 x 4
mm. No fracture was seen. BMI 31. I wonder if she would benefit from a steroid injection. If she
develops fever she will return.
""",
    "an emergency doctor's": """\
Inversion injury of the left ankle 3/7 ago. Unable to put weight on it. Left ankle swollen ++. No
cellulitis, ulcer or foot deformity. Possible fracture of the fibula on the film. DVT unlikely.
%%
PMH: diabetes, DVT 2012
%%
Plan: physio 6/52
""",
    "a physiotherapist's": """\
Both ankles are stiff; pain is worse on the right. Dorsiflexion 5 degrees on the right, 15 degrees
on the left. Drawer positive on the right, negative on the left. Beighton 6/9. The patient walks
normally. Redness has settled since the injection.
%%
Goals: to run without ankle pain
%%
Family history: rheumatoid arthritis
""",
    "a surgeon's": """\
Weber B fracture of the right ankle in 2019. Joint space narrowed on the weight-bearing films,
Kellgren-Lawrence grade 3. Severe right ankle arthritis. ABPI 0.9. HbA1c 64 mmol/mol. No infection
but cellulitis cannot be excluded. The talar tilt angle is 12 degrees. There is a lump of 6 cm.
%%
Infection: no. Smoker: yes. Fever: none.
""",
}
