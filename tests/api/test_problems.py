"""The table of problems: complete, explained in both languages, and the same shape everywhere."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi import FastAPI

from service import errors
from service.api.problem_items import pointer
from service.api.problems import STATUS, declared
from service.errors import ServiceError
from service.text.catalogue import catalogue

Refused = Callable[..., dict[str, Any]]

NO_RECORD = "00000000-0000-0000-0000-000000000007"


def subclasses(kind: type[ServiceError]) -> Iterator[type[ServiceError]]:
    yield kind
    for one in kind.__subclasses__():
        yield from subclasses(one)


@pytest.mark.parametrize("kind", list(subclasses(ServiceError)), ids=lambda kind: kind.__name__)
def test_every_error_has_a_status(kind: type[ServiceError]) -> None:
    late = (errors.Stale, errors.Closed)
    caller = (errors.Unauthenticated, errors.ScopeMissing, errors.NotFound, errors.Withdrawn)
    of_request = (errors.InvalidInput, errors.NotCovered, errors.KeyReused, errors.KeyInUse, *caller, *late)
    assert STATUS[kind.code] // 100 == (4 if issubclass(kind, of_request) else 5)


@pytest.mark.parametrize("code", STATUS)
def test_every_problem_has_a_page_in_both_languages(code: str, ask: Any) -> None:
    pages = {}
    for lang in ("en", "de"):
        answer = ask("GET", f"/problems/{code.replace('_', '-')}", params={"lang": lang})
        assert answer.status_code == 200
        assert answer.headers["content-language"] == lang
        pages[lang] = answer.json()
        assert pages[lang]["code"] == code
        assert pages[lang]["status"] == STATUS[code]
        assert len(pages[lang]["explanation"]) > 20
    assert pages["en"]["title"] != pages["de"]["title"]
    assert pages["en"]["type"] == f"/problems/{code.replace('_', '-')}"


def test_the_list_of_problems_is_the_table(ask: Any) -> None:
    assert [page["code"] for page in ask("GET", "/problems").json()["problems"]] == list(STATUS)


def test_a_page_of_no_problem_is_not_found(ask: Any, refused: Refused) -> None:
    assert refused(ask("GET", "/problems/no-such"), 404)["code"] == "not_found"


def test_every_status_of_the_table_can_be_declared() -> None:
    assert set(declared(*STATUS.values())) == set(STATUS.values())


def test_texts_of_problems_want_the_same_words_in_both_languages() -> None:
    english, german = catalogue("en"), catalogue("de")
    ours = {code for code in english if code.startswith(("problem.", "link."))}
    assert ours == {code for code in german if code.startswith(("problem.", "link."))}
    assert len(ours) > 100


@pytest.mark.parametrize(
    ("steps", "written"),
    [
        ((), ""),
        (("frames", 0, "kernels", 12), "/frames/0/kernels/12"),
        (("a/b", "m~n"), "/a~1b/m~0n"),  # RFC 6901, section 5
        (("x" * 500,), "/" + "x" * 80),
    ],
)
def test_a_pointer_is_written_as_rfc_6901_says(steps: tuple[str | int, ...], written: str) -> None:
    assert pointer(steps) == written


def test_every_address_refuses_in_the_same_shape(app: FastAPI, ask: Any, refused: Refused) -> None:
    for path, methods in app.openapi()["paths"].items():
        url = path.replace("{crop}", "barly").replace("{code}", "nothing").replace("{id}", NO_RECORD)
        refused(ask("PATCH", url), 405)
        refused(ask("GET" if "get" in methods else "POST", url, content=b"x" * 70_000), 413)
        if url != path and "get" in methods:
            # the key of these tests is one to contribute
            refused(ask("GET", url), 403 if path.startswith("/v1/refinements") else 404)
        if not path.startswith("/v1"):
            continue
        for method in methods:
            refused(ask(method.upper(), url, headers={"accept": "text/html"}), 406)
            wrong = {"json": {}} if method == "post" else {}
            refused(ask(method.upper(), url, params={"units": "imperial"}, **wrong), 422)


@pytest.mark.parametrize(
    ("question", "code", "field", "words"),
    [
        ({"crop": "barly"}, "unknown_name", "/crop", ["barley"]),
        ({"grain_moisture_pct": 40}, "outside_window", "/grain_moisture_pct", ["Wheat", "22 %"]),
        ({"grain_moisture_pct": 5}, "outside_window", "/grain_moisture_pct", ["Wheat", "8 %"]),
        ({"machine_class": "axial", "separation_rotor_diameter_mm": 400}, "contradiction", "/machine_class", ["axial"]),
        ({"fan_speed_min_rpm": 900, "fan_speed_max_rpm": 500}, "contradiction", "/fan_speed_max_rpm", []),
        ({"fan_speed_min_rpm": 900}, "contradiction", "/fan_speed_max_rpm", []),
        ({"upper_sieve_design": "round_hole"}, "contradiction", "/upper_sieve_design", ["standard_lip"]),
        ({"crop": "soybean", "use": "malting", "grain_moisture_pct": 13}, "contradiction", "/use", ["Soybean"]),
        ({"header": "row_crop"}, "contradiction", "/header", ["Wheat"]),
        ({"size_band": "giant"}, "unknown_name", "/size_band", []),
        ({"straw_to_grain": 1, "straw_yield_t_ha": 5}, "contradiction", "/straw_yield_t_ha", []),
    ],
    ids=str,
)
def test_a_refusal_of_the_table_says_which_field_and_why(
    question: dict[str, Any], code: str, field: str, words: list[str], ask: Any, refused: Refused
) -> None:
    body = {"crop": "wheat", "machine_class": "hybrid", "grain_moisture_pct": 14, "yield_t_ha": 8} | question
    posted = refused(ask("POST", "/v1/starting-settings", json=body), 422)
    assert posted["code"] == code
    assert field in [item["pointer"] for item in posted["errors"]]
    for word in words:
        assert word in posted["detail"]
    got = refused(ask("GET", "/v1/starting-settings", params={k: str(v) for k, v in body.items()}), 422)
    assert got["detail"] == posted["detail"]
    assert {item["parameter"] for item in got["errors"]} == {item["pointer"][1:] for item in posted["errors"]}
    german = refused(ask("POST", "/v1/starting-settings?lang=de", json=body), 422)
    assert german["detail"] != posted["detail"]


@pytest.mark.parametrize(
    ("change", "pointers"),
    [
        ({"discharge_width_m": 9}, ["/cut_width_m", "/discharge_width_m"]),
        ({"concentration_scope": "everything"}, ["/concentration_scope"]),
        ({"price_per_bu": 5}, ["/price_per_bu", "/price_per_t"]),
        ({"field_efficiency_pct": 70}, ["/field_efficiency_pct"]),
        ({"ground_speed_mph": 3}, ["/area_rate_ha_h", "/ground_speed_mph"]),
        ({"frames": [{"place": "standing", "area_m2": 1, "kernels": [1], "masses_g": [1]}]}, None),
        ({"frames": [{"place": "standing", "area_m2": 1}]}, None),
        ({"frames": [{"place": "standing", "kernels": [1]}]}, ["/frames/0/area_m2"]),
        ({"frames": [{"place": "standing", "area_m2": 1, "kernels": [1], "catch": "straw"}]}, None),
        ({"frames": []}, ["/frames"]),
        ({"frames": None}, ["/frames"]),
    ],
    ids=str,
)
def test_a_refusal_of_a_loss_question_points_into_the_body(
    change: dict[str, Any], pointers: list[str] | None, ask: Any, refused: Refused
) -> None:
    body = {
        "crop": "wheat",
        "yield_t_ha": 8,
        "cut_width_m": 7.5,
        "discharge_width_m": 1.6,
        "frames": [{"place": "discharge", "area_m2": 0.25, "kernels": [88, 102]}],
        "price_per_t": 200,
        "area_rate_ha_h": 3.5,
    } | change
    if "field_efficiency_pct" in change:
        del body["area_rate_ha_h"]
    problem = refused(ask("POST", "/v1/ground-loss", json=body), 422)
    found = sorted({item["pointer"] for item in problem["errors"]})
    if pointers is None:
        assert all(one.startswith("/frames/0/") for one in found)
    else:
        assert sorted(found) == pointers
