"""What every page at the terminal is made of: headings, rows, lists, and how they are written out.

Takes text; gives something `rich` prints. Knows no answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TextIO

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

WIDEST = 100
Row = tuple[str, RenderableType]


def show(renderable: RenderableType, stream: TextIO) -> None:
    """Write a page to a stream: at most 100 columns, plain where the stream is not a terminal."""
    console = Console(file=stream)
    console.width = min(console.width, WIDEST)
    if console.is_terminal:
        console.print(renderable)
        return
    with console.capture() as captured:
        console.print(renderable)
    lines = captured.get().removesuffix("\n").split("\n")
    stream.write("".join(f"{line.rstrip()}\n" for line in lines))


def heading(words: str, style: str = "bold") -> RenderableType:
    """Return a heading with an empty line above it."""
    return Group(Text(""), Text(words, style))


def indented(text: Text, by: int = 2) -> RenderableType:
    """Return a text moved to the right."""
    return Padding(text, (0, 0, 0, by), expand=False)


def table(rows: Sequence[Row], indent: int = 4, label_width: int = 9) -> RenderableType:
    """Return rows of a label and what it says; a label that repeats is shown once."""
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(width=label_width, no_wrap=True)
    grid.add_column(overflow="fold")
    before = ""
    for label, said in rows:
        grid.add_row(Text("" if label == before else label, "bold"), said)
        before = label
    return Padding(grid, (0, 0, 0, indent), expand=False)


def points(lines: Sequence[str], marks: Sequence[str] = (), indent: int = 2) -> RenderableType:
    """Return lines as a list with hanging marks, a dash where none is given."""
    grid = Table.grid(padding=(0, 1, 0, 0))
    grid.add_column(no_wrap=True, justify="right")
    grid.add_column(overflow="fold")
    for index, line in enumerate(lines):
        grid.add_row(Text(marks[index] if marks else "-"), Text(line))
    return Padding(grid, (0, 0, 0, indent), expand=False)
