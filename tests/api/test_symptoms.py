"""GET /v1/symptoms: exactly what a next adjustment takes, in both languages, with where to look first."""

import math
from typing import Any

import pytest

from service.domain.advice_scale import severity_log_amount
from service.knowledge.load import load_table

URL = "/v1/symptoms"
ADJUST = "/v1/next-adjustment"
TABLE = load_table()
IDS = [outcome.id for outcome in TABLE.influence.outcomes if outcome.symptom]


def listed(ask: Any, lang: str = "en") -> dict[str, dict[str, Any]]:
    return {one["id"]: one for one in ask("GET", URL, params={"lang": lang}).json()["symptoms"]}


def test_every_symptom_of_the_table_is_listed_once_in_its_order(ask: Any) -> None:
    assert list(listed(ask)) == IDS
    assert "time_per_area" not in listed(ask)  # nobody sees it


@pytest.mark.parametrize("name", IDS)
def test_what_is_listed_is_accepted_and_told_back_under_its_outcome(name: str, ask: Any) -> None:
    one = listed(ask)[name]
    group = one["groups"][0] if one["groups"] else "pulse"
    crop = next(c for c in TABLE.crops.values() if c.group == group and c.coverage["starting_settings"].classes)
    body = {
        "crop": crop.id,
        "machine_class": crop.coverage["starting_settings"].classes[0],
        "grain_moisture_pct": crop.moisture.best_high.value,
        "yield_t_ha": crop.physical.reference_yield.value,
    }
    signs = [{}, *({"tell_tale": tell["id"]} for tell in one["tell_tales"])]
    for sign in signs:
        answer = ask("POST", ADJUST, json=body | {"symptoms": [{"symptom": name, "severity": 4, **sign}]})
        assert answer.status_code == 200, answer.text[:300]
        assert one["outcome"] in {effect["outcome"] for effect in answer.json()["change"]["effects"]}
    if one.get("measured_as"):
        answer = ask("POST", ADJUST, json=body | {"measured": {one["measured_as"]: 1.0}})
        assert answer.status_code == 200, answer.text[:300]


def test_second_signs_name_what_they_point_to_and_what_to_rule_out(ask: Any) -> None:
    cracked = {tell["id"]: tell for tell in listed(ask)["cracked"]["tell_tales"]}
    # Rademacher: clean grain in the returns is often the cause of breakage: lower sieve, not the drum
    grain = [(pull["setting"], pull["direction"]) for pull in cracked["clean_grain_in_returns"]["points_to"]]
    assert grain[0] == ("lower_sieve_opening", "up")
    assert ("threshing_speed", "spare") in grain
    assert cracked["augers_half_full"]["check"]["code"] == "check.handling_damage"
    tells = {tell["id"] for one in listed(ask).values() for tell in one["tell_tales"]}
    assert tells == {tell.id for tell in TABLE.influence.file.tell_tale}


def test_both_languages_say_where_to_look(ask: Any) -> None:
    english, german = listed(ask, "en"), listed(ask, "de")
    assert (english["cracked"]["name"], german["cracked"]["name"]) == ("Cracked kernels", "Bruchkorn")
    for name in IDS:
        assert english[name]["look_first"] != german[name]["look_first"]
        assert english[name]["look_first"].endswith(".")
        assert german[name]["look_first"].endswith(".")


def test_grades_stand_for_the_amounts_that_the_advice_takes(ask: Any) -> None:
    grades = ask("GET", URL).json()["severities"]
    assert [grade["severity"] for grade in grades] == list(range(6))
    for grade in grades:
        assert grade["amount"]["value"] == pytest.approx(math.exp(severity_log_amount(grade["severity"])), abs=0.005)
        assert grade["amount"]["unit"] == "1"
    assert grades[1]["amount"]["value"] < 1 < grades[2]["amount"]["value"]


def test_sources_are_those_cited_and_the_index_leads_here(ask: Any) -> None:
    answer = ask("GET", URL).json()
    cited = {
        place["id"] for one in answer["symptoms"] for part in (one, *one["tell_tales"]) for place in part["sources"]
    }
    assert {source["id"] for source in answer["sources"]} == cited
    links = {link["rel"]: link for link in ask("GET", "/v1").json()["links"]}
    assert links["symptoms"]["href"] == URL
    assert links["symptoms"]["title"]


def test_what_is_held_is_not_sent_again(ask: Any) -> None:
    first = ask("GET", URL)
    assert first.headers["cache-control"].startswith("public, max-age=300")
    again = ask("GET", URL, headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert ask("GET", URL, params={"lang": "de"}).headers["etag"] != first.headers["etag"]


def test_an_unknown_parameter_is_refused(ask: Any, refused: Any) -> None:
    assert refused(ask("GET", URL, params={"crop": "wheat"}), 422)["code"] == "unknown_field"
