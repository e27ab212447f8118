"""`--record-golden` writes what the examples give now, not comparing it with what they gave."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--record-golden",
        action="store_true",
        help="write examples/*/assessment.json and tests/golden/*.txt anew; look at the difference",
    )


@pytest.fixture
def recording(request: pytest.FixtureRequest) -> bool:
    """Whether to write instead of compare; the option exists only where this folder was named."""
    return bool(request.config.getoption("--record-golden", default=False))
