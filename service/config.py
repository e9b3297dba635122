"""Settings of the service: the one table of names, defaults and help.

Each setting is read from the environment as THRESHBOOK_<NAME>. The command line, the documentation
and the tests take names, defaults and help from `settings_table()`, so there is no second list.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final, Literal

from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, NoDecode, SettingsConfigDict

PREFIX: Final = "THRESHBOOK_"


class Settings(BaseSettings):
    """What a person who runs the service may choose."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, extra="ignore", frozen=True)

    host: str = Field("127.0.0.1", description="Address to listen on.")
    port: int = Field(8000, ge=0, le=65535, description="Port to listen on; 0 takes a free one.")
    workers: int = Field(1, ge=1, le=64, description="Processes that answer requests.")
    extra_crops: Path | None = Field(None, description="Folder with crop files of your own, added to the table.")
    database_url: str | None = Field(
        None, description="Where feedback is kept: sqlite:///FILE or postgresql://...; without it, a file of your own."
    )
    cors_origins: Annotated[tuple[str, ...], NoDecode] = Field(
        ("*",), description="Web origins that may read answers, parted by commas; * is every one."
    )
    max_body_bytes: int = Field(65536, ge=1024, le=16777216, description="Largest request body in bytes.")
    log_level: Literal["debug", "info", "warning", "error"] = Field("info", description="Least level that is logged.")

    @field_validator("cors_origins", mode="before")
    @classmethod
    def _parted(cls, value: object) -> object:
        return tuple(part.strip() for part in value.split(",") if part.strip()) if isinstance(value, str) else value

    @field_validator("extra_crops", "database_url", mode="before")
    @classmethod
    def _none_when_empty(cls, value: object) -> object:
        # a compose file hands over an empty string for a variable that is not set
        return None if value == "" else value


@dataclass(frozen=True, slots=True)
class SettingLine:
    """One line of the settings table as documentation shows it."""

    name: str
    variable: str
    default: str
    help: str


def settings_table() -> list[SettingLine]:
    """Return every setting with its environment variable, default and help, in the order of declaration."""
    return [
        SettingLine(name, PREFIX + name.upper(), _written(field.default), field.description or "")
        for name, field in Settings.model_fields.items()
    ]


def _written(default: object) -> str:
    if default is None:
        return ""
    return ",".join(default) if isinstance(default, tuple) else str(default)
