"""What durable-rules 2.0.28 was measured to bear; the plan and the engine both keep to it."""

#: The engine was measured at this version; another one may behave otherwise.
PINNED = "2.0.28"
#: A fact matched by more than 64 sibling tests is dropped with error 303.
BLOCK_LITERALS = 56
#: More than 15 and/or groups in one rule are refused (error 113), the outermost included.
RULE_GROUPS = 12
#: More than 511 tests on one level make the build hang for ever.
MOST_BLOCKS = 480
#: More than 4,096 rules in a ruleset are refused by the engine (error 106).
MOST_RULES = 4000
#: Sessions are named from a small fixed set: 32-bit name hashes collide, and colliding
#: sessions share their facts.
SESSIONS = tuple(f"s{number}" for number in range(8))
