"""Organisations, contributors and keys as a person types them."""

import re
from pathlib import Path

import httpx
import pytest

from service.store import open_store, schema
from tests.conftest import Typed, running_service
from tests.coop import REPORT, headers

KEY = re.compile(r"tbk_[a-z2-7]{8}_[a-z2-7]{52}\n")


@pytest.fixture
def database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    address = f"sqlite:///{tmp_path / 'data' / 'store.sqlite3'}"
    monkeypatch.setenv("THRESHBOOK_DATABASE_URL", address)
    return address


@pytest.fixture
def typed(database: str, inside: Typed) -> Typed:
    """Run a command in this process, on a database of its own."""
    assert database
    return inside


def test_the_first_organisation_makes_the_store_and_its_key_alone_is_said(typed: Typed, database: str) -> None:
    assert not open_store(database).exists
    code, out, err = typed("org", "create", "hill-coop")
    assert code == 0
    assert KEY.fullmatch(out)
    assert out.strip() not in err
    assert "Made sqlite" in err
    assert schema.check(open_store(database)).organisations == 1
    code, out, _ = typed("store", "check")
    assert code == 0
    assert "1 organisations, 0 contributors, 0 records" in out
    assert "No faults." in out


def test_before_anything_is_made_there_is_nothing_to_list(typed: Typed) -> None:
    for words in (("org", "list"), ("store", "check"), ("org", "member", "list", "hill-coop")):
        code, out, err = typed(*words)
        assert (code, out) == (1, "")
        assert err.startswith("The store cannot be used: ")
        assert "Traceback" not in err


def test_a_store_is_brought_up_and_again(typed: Typed) -> None:
    for _ in range(2):
        code, out, _ = typed("store", "upgrade")
        assert code == 0
        assert f"is at {schema.NEWEST}." in out


@pytest.mark.parametrize("name", ["Hill", "hill coop", "-hill", "hill-", "", "h" * 41, "hügel", "hill\n"])
def test_an_odd_name_is_refused_in_words(name: str, typed: Typed) -> None:
    code, out, err = typed("org", "create", "--", name)
    assert (code, out) == (1, "")
    assert "small letters" in err


def test_a_life_of_an_organisation(typed: Typed) -> None:
    typed("org", "create", "hill-coop", "--season-starts", "7")
    assert "is taken" in typed("org", "create", "hill-coop")[2]
    code, first, err = typed("org", "member", "add", "hill-coop", "farm-1")
    assert (code, err.startswith("farm-1 is there.")) == (0, True)
    prefix = first.split("_")[1]
    assert "is taken" in typed("org", "member", "add", "hill-coop", "farm-1")[2]
    assert typed("org", "member", "add", "hill-coop", "farm-2", "--no-key")[1] == ""
    listing = typed("org", "member", "list", "hill-coop")[1]
    assert "farm-1" in listing
    assert "farm-2" in listing

    code, second, err = typed("org", "key", "rotate", prefix, "--overlap-days", "3")
    assert KEY.fullmatch(second)
    assert f"{prefix} holds for 3 more days." in err
    newer = second.split("_")[1]
    code, out, _ = typed("org", "key", "revoke", newer)
    assert (code, out) == (0, f"{newer} holds no longer.\n")
    assert typed("org", "key", "rotate", newer)[2].splitlines()[-1] == "This key holds no longer."
    code, third, _ = typed(
        "org", "key", "create", "hill-coop", "--member", "farm-2", "--scopes", "read", "--days", "30"
    )
    assert KEY.fullmatch(third)
    keys = typed("org", "key", "list", "hill-coop")[1]
    assert "revoked" in keys
    assert not [key for key in (first, second, third) if key.strip().rpartition("_")[2] in keys]

    code, out, _ = typed("org", "member", "erase", "hill-coop", "farm-1", "--yes")
    assert (code, out) == (0, "farm-1 is gone, with 0 records.\n")
    assert "farm-1" not in typed("org", "member", "list", "hill-coop")[1]
    assert "hill-coop" in typed("org", "list")[1]
    log = typed("org", "log", "hill-coop")[1]
    for action in ("organisation created", "member added", "key rotated", "key revoked", "member erased"):
        assert action in log
    assert "farm-1" not in log


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("org", "member", "add", "hill", "farm-1"), "nearest: hill-coop"),
        (("org", "key", "create", "hill-coop", "--member", "farm-x"), "unknown name: contributor"),
        (("org", "key", "create", "hill-coop", "--scopes", "reed"), "nearest: read"),
        (("org", "key", "create", "hill-coop", "--scopes", ","), "at least one scope"),
        (("org", "key", "revoke", "nothing"), "unknown name: prefix"),
        (("org", "member", "erase", "hill-coop", "farm-x", "--yes"), "unknown name: contributor"),
    ],
)
def test_a_slip_is_told_in_words(words: tuple[str, ...], said: str, typed: Typed) -> None:
    typed("org", "create", "hill-coop")
    code, out, err = typed(*words)
    assert (code, out) == (1, "")
    assert said in err


def test_a_database_with_a_fault_ends_with_one(typed: Typed, database: str) -> None:
    typed("org", "create", "hill-coop")
    with open_store(database).engine.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER audit_event_no_delete")
    code, out, err = typed("store", "check")
    assert code == 1
    assert "audit_event can be changed" in err
    assert "No faults" not in out


def test_a_made_key_opens_the_running_service(typed: Typed, database: str) -> None:
    typed("org", "create", "hill-coop")
    key = typed("org", "member", "add", "hill-coop", "farm-1")[1].strip()
    with running_service(database=database) as url:
        assert httpx.get(f"{url}/readyz", trust_env=False).json()["store"] == "ready"
        answer = httpx.post(f"{url}/v1/feedback", json=REPORT, headers=headers(key), trust_env=False)
    assert answer.status_code == 201, answer.text
    assert "farm-1" in typed("org", "member", "list", "hill-coop")[1]
    assert "1 records" in typed("store", "check")[1]
