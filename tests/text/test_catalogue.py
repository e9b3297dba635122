"""Both languages say the same things, fully, and nothing the program says is without a text."""

import ast
import re
from pathlib import Path

import pytest
from babel.messages.catalog import Message as Entry
from babel.messages.pofile import read_po

from service.domain.types import Message, Quantity
from service.knowledge.load import load_table
from service.knowledge.schema import LocalText
from service.text import LANGUAGES, Language, names, render
from service.text.catalogue import catalogue, placeholders

SERVICE = Path(__file__).resolve().parents[2] / "service"
SAID = re.compile(r"""\bsay\(["']([^"']+)["']""")  # in a template
CODE = re.compile(r"^[a-z0-9_]+(\.[a-z0-9_]+)+$")


def entries(lang: str) -> list[Entry]:
    path = SERVICE / "text" / "locale" / lang / "LC_MESSAGES" / "threshbook.po"
    with path.open("rb") as file:
        return [entry for entry in read_po(file, locale=lang) if entry.id]


def literal_codes() -> dict[str, str]:
    """Message codes written out in the service, with the file each stands in.

    Codes stand in `Message("...")` calls, in templates as `say("...")`, and as plain text where a refusal
    names its reason: any text that looks like a code and begins with a section of the catalogue.
    """
    sections = {code.split(".")[0] for code in catalogue("en")}
    found = {}
    for path in SERVICE.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
        pieces = [part for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values]
        for node in nodes:
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Message":
                for argument in [*node.args[:1], *(k.value for k in node.keywords if k.arg == "code")]:
                    if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                        found[argument.value] = path.name
            plain = isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in pieces
            if plain and CODE.match(node.value) and node.value.split(".")[0] in sections:
                found[node.value] = path.name
    for path in SERVICE.rglob("*.html"):
        found |= dict.fromkeys(SAID.findall(path.read_text(encoding="utf-8")), path.name)
    return found


def composed_codes() -> set[str]:
    """Patterns of the codes that f-strings of the service put together."""
    found = set()
    for path in SERVICE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.JoinedStr):
                parts = [re.escape(part.value) if isinstance(part, ast.Constant) else None for part in node.values]
                pattern = "".join("[a-z0-9_.]+" if part is None else str(part) for part in parts)
                if re.match(r"[a-z_]+\\\.", pattern):  # begins with a section, else it would fit every code
                    found.add(pattern)
    return found


def test_languages_have_the_same_codes() -> None:
    assert {entry.id for entry in entries("en")} == {entry.id for entry in entries("de")}


@pytest.mark.parametrize("lang", LANGUAGES)
def test_every_text_is_written_and_reviewed(lang: Language) -> None:
    found = entries(lang)
    assert not [entry.id for entry in found if not str(entry.string).strip()]
    assert not [entry.id for entry in found if entry.fuzzy]
    assert not [entry.id for entry in found if not CODE.match(str(entry.id))]


@pytest.mark.parametrize("lang", LANGUAGES)
def test_no_code_stands_twice(lang: Language) -> None:
    text = (SERVICE / "text" / "locale" / lang / "LC_MESSAGES" / "threshbook.po").read_text(encoding="utf-8")
    codes = re.findall(r'^msgid "(.+)"$', text, flags=re.MULTILINE)
    assert len(codes) == len(set(codes))
    assert len(codes) == len(catalogue(lang))


def test_languages_fill_the_same_placeholders() -> None:
    english, german = catalogue("en"), catalogue("de")
    assert {c: placeholders(t) for c, t in english.items()} == {c: placeholders(t) for c, t in german.items()}


@pytest.mark.parametrize("lang", LANGUAGES)
def test_braces_only_hold_placeholders(lang: Language) -> None:
    odd = [c for c, t in catalogue(lang).items() if t.count("{") + t.count("}") != 2 * len(re.findall(r"\{\w+\}", t))]
    assert not odd


def test_every_code_in_the_program_has_a_text() -> None:
    codes = literal_codes()
    assert codes, "found no messages in the program"
    assert not {code: file for code, file in codes.items() if code not in catalogue("en")}


def table_codes() -> set[str]:
    table = load_table()
    codes = {f"first_try.{rule.why}" for rule in table.responses.first_try}
    codes |= {f"check.{mistake.id}" for mistake in table.influence.file.mistake}
    codes |= {f"tell_tale.{sign.id}" for sign in table.influence.file.tell_tale}
    assert table.relearn is not None
    careful = [*table.relearn.state, *table.relearn.task]
    codes |= {f"caution.{code}" for entry in careful for code in entry.cautions}
    codes |= {f"way.{lever.setting}_{way}" for lever in table.influence.file.lever for way in ("up", "down")}
    return codes | {f"{item.list}.{item.code}" for item in table.responses.checklist}


def test_every_code_of_the_table_has_a_text() -> None:
    assert table_codes() - set(catalogue("en")) == set()


def test_no_text_is_left_over() -> None:
    """Every code is written out somewhere, or fits a code that is put together, as `limit.{...}`."""
    fits = [re.compile(pattern) for pattern in composed_codes()]
    named = literal_codes().keys() | table_codes()
    left = [c for c in catalogue("en") if c not in named and not any(p.fullmatch(c) for p in fits)]
    assert not left


def test_german_is_not_left_in_english() -> None:
    """Short labels may agree (km/h, Rotor); whole sentences may not."""
    same = [c for c, t in catalogue("de").items() if t == catalogue("en")[c] and len(t) > 25]
    assert not same


def test_missing_code_is_told_by_name() -> None:
    with pytest.raises(KeyError, match=r"nowhere\.to_be_found"):
        render(Message("nowhere.to_be_found"), "en", "metric")


@pytest.fixture
def texts(monkeypatch: pytest.MonkeyPatch) -> None:
    small = {
        "en": {"t.plain": "Drive {speed} in {crop}, {n} times: {steps}.", "t.step": "step {n}"},
        "de": {"t.plain": "Mit {speed} in {crop}, {n}-mal: {steps}.", "t.step": "Schritt {n}"},
    }
    monkeypatch.setattr("service.text.catalogue.catalogue", lambda lang: small[lang])


def message() -> Message:
    steps = [Message("t.step", {"n": 1}), Message("t.step", {"n": 2})]
    crop = LocalText(en="wheat", de="Weizen")
    return Message("t.plain", {"speed": Quantity(5.4, "km/h"), "crop": crop, "n": 1.5, "steps": steps})


@pytest.mark.usefixtures("texts")
def test_parameters_are_written_in_the_language() -> None:
    assert render(message(), "en", "metric") == "Drive 5.4 km/h in wheat, 1.5 times: step 1 and step 2."
    assert render(message(), "de", "metric") == "Mit 5,4 km/h in Weizen, 1,5-mal: Schritt 1 und Schritt 2."


@pytest.mark.usefixtures("texts")
def test_quantities_are_written_in_the_unit_system() -> None:
    # 5.4 km/h = 5.4 / 1.609344 mi/h = 3.3554
    assert render(message(), "en", "us").startswith("Drive 3.4 mph in wheat")


@pytest.mark.usefixtures("texts")
def test_missing_parameter_is_told_by_name() -> None:
    with pytest.raises(KeyError, match=r"t\.step.*'n'"):
        render(Message("t.step"), "en", "metric")


@pytest.mark.usefixtures("texts")
def test_a_parameter_that_cannot_be_written_is_refused() -> None:
    with pytest.raises(TypeError, match="NoneType"):
        render(Message("t.step", {"n": None}), "en", "metric")


def test_names_fall_back_to_english() -> None:
    assert names(LocalText(en="Crop X"), "de") == "Crop X"
    assert names(LocalText(en="Wheat", de="Weizen"), "de") == "Weizen"
    assert names(LocalText(en="Wheat", de="Weizen"), "en") == "Wheat"
