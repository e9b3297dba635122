"""A crop of one's own, laid over the table by a setting: served like any other, under its own revision."""

from pathlib import Path
from typing import Any

import pytest

from service.api.app import create_app
from service.config import Settings
from service.errors import KnowledgeFault
from service.knowledge.tree import PACKAGE_FOLDER

NAMES = {
    'id = "wheat"': 'id = "tallgrain"',
    'en = "Wheat", de = "Weizen"': 'en = "Tallgrain", de = "Hochkorn"',
    '"wheat.': '"tallgrain.',
}


@pytest.fixture(scope="module")
def local(tmp_path_factory: pytest.TempPathFactory, asking: Any) -> Any:
    """A made-up crop: the wheat file under another name, its code and aliases left out."""
    folder: Path = tmp_path_factory.mktemp("crops")
    text = (PACKAGE_FOLDER / "crops" / "wheat.toml").read_text(encoding="utf-8")
    for old, new in NAMES.items():
        assert old in text
        text = text.replace(old, new)
    lines = text.splitlines()
    start = lines.index("[eppo]")
    end = next(place for place in range(start + 1, len(lines)) if lines[place].startswith("["))
    kept = [line for line in lines[:start] + lines[end:] if not line.startswith("aliases")]
    (folder / "tallgrain.toml").write_text("\n".join(kept), encoding="utf-8")
    return asking(create_app(Settings(extra_crops=folder)))


def test_a_crop_of_one_s_own_is_answered(local: Any) -> None:
    question = {"crop": "Hochkorn", "machine_class": "hybrid", "grain_moisture_pct": 14, "yield_t_ha": 8}
    answer = local("POST", "/v1/starting-settings", json=question)
    assert answer.status_code == 200
    assert answer.json()["crop"] == {"id": "tallgrain", "name": "Tallgrain"}
    assert "tallgrain" in [crop["id"] for crop in local("GET", "/v1/crops").json()["crops"]]


def test_the_local_revision_is_told_and_can_be_pinned_however_its_plus_is_written(local: Any) -> None:
    revision = local("GET", "/version").json()["revision"]
    assert revision.endswith("+local")
    for written in (revision, revision.replace("+", "%2B")):
        answer = local("GET", f"/v1/crops/tallgrain?revision={written}")
        assert answer.status_code == 200, answer.text
        assert answer.headers["threshbook-revision"] == revision
        question = f"crop=tallgrain&machine_class=axial&grain_moisture_pct=14&yield_t_ha=8&revision={written}"
        assert local("GET", f"/v1/starting-settings?{question}").status_code == 200


def test_a_wrong_crop_file_keeps_the_service_from_starting(tmp_path: Path) -> None:
    (tmp_path / "broken.toml").write_text('id = "broken"\n', encoding="utf-8")
    with pytest.raises(KnowledgeFault, match=r"broken\.toml"):
        create_app(Settings(extra_crops=tmp_path))
