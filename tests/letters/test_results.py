"""Does each test get its own answer, and a test without one none?"""

from __future__ import annotations

import pytest

TABLE = [
    ("Anterior drawer positive.", {"drawer positive"}),
    ("Anterior drawer was strongly positive.", {"drawer positive"}),
    ("Positive anterior drawer.", {"drawer positive"}),
    ("Anterior drawer: -ve", {"drawer negative"}),
    ("Anterior drawer +ve, tilt -ve", {"drawer positive", "tilt negative"}),
    ("Drawer 2+, tilt negative", {"drawer positive", "tilt negative"}),
    ("Drawer and tilt both negative.", {"drawer negative", "tilt negative"}),
    ("Negative drawer and tilt tests.", {"drawer negative", "tilt negative"}),
    ("Drawer, tilt and squeeze test negative.",
     {"drawer negative", "tilt negative", "squeeze negative"}),
    ("Drawer is lax, tilt stable.", {"drawer positive", "tilt negative"}),
    ("No anterior drawer.", {"drawer negative"}),
    ("Drawer not positive.", {"drawer negative"}),
    ("Drawer negative; positive squeeze test.", {"drawer negative", "squeeze positive"}),
    ("Anterior drawer was tested.", set()),
    ("Drawer equivocal.", set()),
    ("Drawer could not be assessed.", set()),
    ("AD positive at the ankle.", {"drawer positive"}),
    ("AD positive.", set()),
    ("ad positive at the ankle.", set()),
    ("Tinel's sign present.", {"tinel positive"}),
    # degrees
    ("KL grade 3.", {"kl grade-3"}),
    ("Kellgren-Lawrence III", {"kl grade-3"}),
    ("Grade IV Kellgren-Lawrence changes", {"kl grade-4"}),
    ("KL 2-3", set()),
    ("KL grade 7", set()),
    ("Weber B fracture.", {"weber type-b", "fracture present"}),
    ("Sanders type IIA.", {"sanders type-2a"}),
    ("Sanders type 2.", set()),
    # words of a scale
    ("Joint space narrowed.", {"space narrowed"}),
    ("Reduced joint space.", {"space narrowed"}),
    ("Bone on bone.", {"space lost"}),
    ("Severe ankle arthritis.", {"arthritis end-stage"}),
    ("Mild ankle arthritis.", {"arthritis mild"}),
    ("No ankle arthritis.", {"arthritis none"}),
    ("Ankle arthritis.", set()),
    # present or absent, in a form's words
    ("Redness: yes", {"redness present"}),
    ("Redness: Y", {"redness present"}),
    ("Redness - no", {"redness absent"}),
    ("Walks normally.", {"limp absent"}),
    ("Walks with a limp.", {"limp present"}),
    ("Ankle swelling ++", {"swelling present"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), TABLE, ids=[text for text, _ in TABLE])
def test_an_answer_goes_to_its_own_test(said, text, expected):
    assert said(text) == expected
