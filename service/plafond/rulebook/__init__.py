"""Rules as data: reads knowledge files and releases, gives a frozen `Rulebook`.

Takes files; gives rules whose every id, unit and value exists. Refuses to know any patient.
"""

from plafond.rulebook.conditions import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Clause,
    Compare,
    Condition,
    Is,
    Not,
    OneOf,
    Parameter,
    clauses,
    compare,
    holds,
    read_condition,
    say_clause,
    write_condition,
)
from plafond.rulebook.letters import Modifier
from plafond.rulebook.loading import load_directory, read_directory, require_directory
from plafond.rulebook.releases import (
    ReleaseFile,
    digest_of,
    find_release,
    freeze,
    load_release,
    releases,
    thaw,
)
from plafond.rulebook.rules import Case, Effect, Option, Rule, Rulebook, Scope, Target
from plafond.rulebook.schema import schemas

__all__ = [
    "All",
    "AnyOf",
    "AtLeast",
    "Between",
    "Case",
    "Clause",
    "Compare",
    "Condition",
    "Effect",
    "Is",
    "Modifier",
    "Not",
    "OneOf",
    "Option",
    "Parameter",
    "ReleaseFile",
    "Rule",
    "Rulebook",
    "Scope",
    "Target",
    "clauses",
    "compare",
    "digest_of",
    "find_release",
    "freeze",
    "holds",
    "load_directory",
    "load_release",
    "read_condition",
    "read_directory",
    "releases",
    "require_directory",
    "say_clause",
    "schemas",
    "thaw",
    "write_condition",
]  # fmt: skip
