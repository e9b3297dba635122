"""Language by parameter and by Accept-Language header."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import UnknownName
from service.text import LANGUAGES, negotiate


@pytest.mark.parametrize(
    ("header", "language"),
    [
        (None, "en"),
        ("", "en"),
        ("de", "de"),
        ("de-AT", "de"),
        ("DE_ch", "de"),
        ("da, en-gb;q=0.8, en;q=0.7", "en"),  # the header of RFC 9110 section 12.5.4
        ("fr;q=0.9, de;q=0.4", "de"),
        ("en;q=0.3, de;q=0.8", "de"),
        ("*", "en"),
        ("en;q=0, *", "de"),
        ("en;q=0, de;q=0", "en"),
        ("de;q=0, de-AT", "en"),
        ("de;q=abc, en", "en"),
        ("de;q=7", "en"),
        ("de;level=1", "en"),
        (",,;;q=,", "en"),
        ("fr, nl", "en"),
    ],
)
def test_header_is_matched(header: str | None, language: str) -> None:
    assert negotiate(None, header) == language


def test_parameter_wins_over_header() -> None:
    assert negotiate("de", "en") == "de"
    assert negotiate("de-DE", None) == "de"


def test_unspoken_parameter_is_refused_with_the_list() -> None:
    with pytest.raises(UnknownName) as refusal:
        negotiate("nl", "de")
    assert refusal.value.field == "lang"
    assert refusal.value.facts["allowed"] == ["en", "de"]


@given(st.text())
def test_no_header_fails(header: str) -> None:
    assert negotiate(None, header) in LANGUAGES
