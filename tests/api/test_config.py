"""Settings: from the environment, checked, and documented by the one table."""

from pathlib import Path

import pytest
from pydantic import ValidationError

from service.config import PREFIX, Settings, settings_table


def test_the_table_lists_every_setting_with_variable_default_and_help() -> None:
    lines = {line.name: line for line in settings_table()}
    assert list(lines) == list(Settings.model_fields)
    assert all(line.help.endswith(".") for line in lines.values())
    assert lines["max_body_bytes"].variable == "THRESHBOOK_MAX_BODY_BYTES"
    assert (lines["port"].default, lines["cors_origins"].default, lines["extra_crops"].default) == ("8000", "*", "")


def test_defaults_of_the_table_are_the_defaults_in_force(monkeypatch: pytest.MonkeyPatch) -> None:
    for line in settings_table():
        monkeypatch.setenv(line.variable, line.default)
    assert Settings() == Settings.model_construct()


@pytest.mark.parametrize(
    ("name", "written", "read"),
    [
        ("PORT", "9001", 9001),
        ("CORS_ORIGINS", "https://a.example, https://b.example", ("https://a.example", "https://b.example")),
        ("EXTRA_CROPS", "", None),
        ("EXTRA_CROPS", "/srv/crops", Path("/srv/crops")),
        ("LOG_LEVEL", "warning", "warning"),
    ],
)
def test_a_setting_is_read_from_the_environment(
    name: str, written: str, read: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PREFIX + name, written)
    assert getattr(Settings(), name.lower()) == read


@pytest.mark.parametrize(
    ("name", "written"), [("PORT", "70000"), ("WORKERS", "0"), ("MAX_BODY_BYTES", "1"), ("LOG_LEVEL", "loud")]
)
def test_a_setting_out_of_range_is_refused(name: str, written: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(PREFIX + name, written)
    with pytest.raises(ValidationError):
        Settings()
