"""plafond at the terminal."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from plafond.governance.verify import verify as run_verify
from plafond.settings import read_settings


@click.group()
def main() -> None:
    """Keyhole surgery of the foot and ankle."""


@main.command()
@click.option("--knowledge", type=click.Path(path_type=Path))
def verify(knowledge: Path | None) -> None:
    """Check the knowledge files and run every case."""
    issues = run_verify(knowledge or read_settings().knowledge, date.today())
    for issue in issues:
        print(issue)
    print(len(issues), "issues")
    sys.exit(any(issue.severity == "error" for issue in issues))
