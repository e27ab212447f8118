"""The only reader of the environment: where knowledge and archive lie, and how to listen.

PLAFOND_KNOWLEDGE   folder of the knowledge files   (default: the project's own)
PLAFOND_RELEASE     version or digest to serve      (default: the newest)
PLAFOND_ARCHIVE     SQLAlchemy URL of the archive   (default: sqlite in ~/.local/share/plafond)
PLAFOND_HOST        address to listen on            (default: 127.0.0.1; loopback only)
PLAFOND_PORT        port to listen on               (default: 8321)
"""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from plafond.errors import SettingsError


def default_knowledge() -> Path:
    """Return the knowledge folder that came with the installation, else the checkout's."""
    inside = Path(__file__).parent / "knowledge"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "knowledge"


def _default_archive() -> str:
    return f"sqlite:///{Path.home() / '.local/share/plafond/archive.db'}"


class Settings(BaseSettings):
    """Settings, each from an environment variable that starts with PLAFOND_."""

    model_config = SettingsConfigDict(env_prefix="PLAFOND_", extra="ignore", frozen=True)

    knowledge: Path = Field(default_factory=default_knowledge)
    release: str = ""
    archive: str = Field(default_factory=_default_archive)
    host: str = "127.0.0.1"
    port: int = Field(default=8321, ge=0, le=65535)


def read_settings() -> Settings:
    """Read the settings; raises SettingsError, naming the variable, for one without sense."""
    try:
        return Settings()
    except ValidationError as error:
        first = error.errors()[0]
        name = "PLAFOND_" + "_".join(str(part) for part in first["loc"]).upper()
        raise SettingsError(
            "a setting makes no sense",
            where=name,
            found=repr(first["input"]),
            expected=first["msg"],
            mend=f"set or unset {name}",
        ) from error
