"""Do the documents speak of everything there is, and do their snippets run?"""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from plafond import errors
from plafond.cli import main
from plafond.quantities import UNITS
from plafond.rulebook.conditions import CLAUSE_WORDS
from plafond.rulebook.rules import CONFIDENCES, KINDS, TRAITS
from plafond.settings import Settings
from plafond.vocabulary import FORMULAS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
KNOWLEDGE = (ROOT / "knowledge" / "README.md").read_text()


def commands(group: click.Group, path: str = "plafond") -> list[str]:
    found = []
    for name, command in group.commands.items():
        below = f"{path} {name}"
        found += commands(command, below) if isinstance(command, click.Group) else [below]
    return found


def error_names() -> list[str]:
    return [
        name
        for name, value in vars(errors).items()
        if isinstance(value, type) and issubclass(value, errors.PlafondError)
    ]


@pytest.mark.parametrize("command", commands(main))
def test_every_command_is_documented(command):
    assert command in README + DEVELOPERS


@pytest.mark.parametrize("name", sorted(Settings.model_fields))
def test_every_setting_is_documented(name):
    assert f"PLAFOND_{name.upper()}" in README + DEVELOPERS


@pytest.mark.parametrize("name", error_names())
def test_every_error_is_drawn_in_the_tree_and_documented(name):
    assert name in (errors.__doc__ or "")
    assert name in DEVELOPERS


@pytest.mark.parametrize("word", [*CLAUSE_WORDS, *KINDS, *TRAITS, *CONFIDENCES, *FORMULAS, *UNITS])
def test_every_word_of_a_rule_is_explained_to_its_authors(word):
    assert f"`{word}`" in KNOWLEDGE or re.search(rf"[`\s]{re.escape(word)}[`\s,:]", KNOWLEDGE)


def test_every_endpoint_is_documented():
    from plafond.web import create_app

    paths = create_app().openapi()["paths"]
    assert len(paths) >= 12
    for path in paths:
        assert path in README + DEVELOPERS, path


def test_every_folder_of_tests_and_every_room_is_on_the_map():
    rooms = [path.name for path in (ROOT / "service" / "plafond").iterdir()]
    for room in rooms:
        if not room.startswith(("_", "py.typed")) and room != "knowledge":
            assert room.removesuffix(".py") in DEVELOPERS, room
    for folder in (ROOT / "tests").iterdir():
        if folder.is_dir() and not folder.name.startswith(("_", ".")):
            assert f"tests/{folder.name}/" in DEVELOPERS, folder.name
