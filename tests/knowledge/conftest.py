"""A small complete knowledge folder, every figure in it invented, that tests change and load."""

import json
import math
from copy import deepcopy
from pathlib import Path

import pytest

from service.errors import KnowledgeFault
from service.knowledge.digest import digest
from service.knowledge.load import load_table
from service.knowledge.tree import PACKAGE_FOLDER, KnowledgeTree, read_tree

CLASSES = ["walker", "hybrid", "axial", "twin_axial"]
SETTINGS = ["threshing_speed", "concave_clearance", "cleaning_air_speed", "upper_sieve_opening", "reel_index"]


@pytest.fixture(scope="session")
def tree() -> KnowledgeTree:
    """The files of the package as they are read, before a table is made of them."""
    found = read_tree(PACKAGE_FOLDER).tree
    assert found is not None
    return found


def practice():
    return {
        "basis": "expert",
        "known": "practice",
        "source": {"id": "common-practice", "at": "invented"},
    }


def published():
    return {"basis": "published", "known": "read", "source": [{"id": "opened-book", "at": "p. 1, invented"}]}


def figure(value, unit, **more):
    return {"value": value, "unit": unit, **practice(), **more}


def names(en):
    return {"en": en, "de": f"{en} (de)"}


def quantity(ident, unit, low, high, *, setting=True, **monotone):
    entry = {"id": ident, "unit": unit, "minimum": low, "maximum": high, "setting": setting, "monotone": monotone}
    return {**entry, "names": names(ident), "meaning": names(ident)}


def row(crop, setting, figures, unit, classes=CLASSES, **more):
    ident = f"{crop}.{'all' if classes is CLASSES else classes[0]}.{setting}"
    low, start, high = figures
    entry = {"id": ident, "setting": setting, "classes": [*classes], "low": low, "start": start, "high": high}
    return {**entry, "unit": unit, **practice(), **more}


def response(ident, factor, *, unit="%", mode="percent", **more):
    quantity_id = ident.split(".")[1]
    return {"id": ident, "quantity": quantity_id, "factor": factor, "mode": mode, "unit": unit, **practice(), **more}


def crop(ident, en, aliases, eppo, **more):
    physical = {
        "thousand_kernel_mass": figure(40, "g"),
        "bulk_density": figure(75, "kg/hL"),
        "bushel_mass": figure(60, "[lb_av]", **published()),
        "straw_to_grain": figure(1, "1"),
        "chaff_to_grain": figure(0.25, "1"),
        "straw_intake_share": figure(60, "%"),
        "chaff_terminal_velocity": figure(2.5, "m/s"),
        "kernel_air": {"method": "sphere", "density": figure(1300, "kg/m3")},
        "reference_moisture": figure(15, "%"),
        "reference_yield": figure(7, "t/har"),
    }
    return {
        "id": ident,
        "group": "cereal",
        "names": names(en),
        "aliases": aliases,
        "eppo": {"value": eppo, "known": "read_secondhand", "source": {"id": "opened-book", "at": "invented"}},
        "header": "reel",
        "power": "small_grain",
        "damage": {"grade": 2, **practice()},
        "physical": physical,
        "trade_moisture": [figure(14.5, "%", market="eu"), figure(13.5, "%", market="us")],
        "moisture": {
            "floor": figure(8, "%"),
            "best_low": figure(13, "%"),
            "best_high": figure(18, "%"),
            "ceiling": figure(22, "%"),
        },
        "targets": {key: figure(1, "%") for key in ("machine_loss", "header_loss", "total_loss")},
        "coverage": {"starting_settings": {"level": "complete"}, "ground_loss": {"level": "complete"}},
        **more,
    }


def wheat():
    # 500 {rev}/min on 1000 mm is pi x 0.5 m x 1000 / 60 = 26.18 m/s, by definition of peripheral speed
    printed = {"of": "start", "text": "500", "value": 500, "unit": "{rev}/min", "diameter_mm": 1000}
    drum = row("wheat", "threshing_speed", (20, 26.18, 34), "m/s", ["walker"], printed=[printed])
    hybrid = row("wheat", "threshing_speed", (19, 24.871, 30), "m/s", ["hybrid"], basis="computed", known="derived")
    hybrid["derived"] = {"row": drum["id"], "factor": 0.95, "cap": 30}
    hybrid["source"] = {"id": "opened-book", "at": "p. 2, invented"}
    malting = row("wheat", "concave_clearance", (10, 15, 20), "mm", ["walker"], use="malting")
    malting["id"] = "wheat.walker.concave_clearance.malting"
    rows = [
        drum,
        hybrid,
        row("wheat", "threshing_speed", (20, 24, 30), "m/s", ["axial", "twin_axial"]),
        row("wheat", "concave_clearance", (8, 12, 20), "mm"),
        malting,
        row("wheat", "cleaning_air_share", (0.4, 0.6, 0.8), "1"),
        row("wheat", "upper_sieve_opening", (10, 14, 18), "mm"),
        row("wheat", "reel_index", (1.1, 1.2, 1.5), "1"),
    ]
    own = [
        response("wheat.threshing_speed.moisture", "grain_moisture", knots=[[-5, -10], [0, 0], [6, 12]]),
        response("wheat.threshing_speed.straw", "straw_condition", levels={"dry": -5, "tough": 5, "green": 3}),
    ]
    return crop("wheat", "Wheat", ["winter wheat", "Körnerweizen"], "AAAAA", row=rows, response=own)


def barley():
    why = {"level": "none", "why": {"en": "Nobody wrote the rows.", "de": "Niemand schrieb die Zeilen."}}
    barley = crop("barley", "Barley", ["spring barley"], "BBBBB")
    barley["coverage"]["starting_settings"] = why
    return barley


def maize():
    rows = [
        row("maize", "threshing_speed", (10, 15, 20), "m/s", ["axial"]),
        row("maize", "cleaning_air_share", (0.4, 0.6, 0.8), "1", ["axial"]),
    ]
    maize = crop("maize", "Maize", ["corn", "grain maize"], "CCCCC", group="maize", header="row_crop", row=rows)
    maize["coverage"]["starting_settings"] = {
        "level": "partial",
        "classes": ["axial"],
        "why": {"en": "Only one class was written."},
    }
    return maize


def machines():
    defaults = {
        "engine_power": figure(200, "kW"),
        "machine_mass": figure(12, "t"),
        "drum_diameter": figure(600, "mm"),
        "separation_rotor_diameter": figure(445, "mm"),
        "channel_width": figure(1500, "mm"),
        "separation_area": figure(5, "m2"),
        "cleaning_area": figure(5, "m2"),
        "tank_volume": figure(8000, "L"),
        "unloading_rate": figure(90, "L/s"),
        "cut_width": figure(6, "m"),
        "cut_width_row_crop": figure(4.5, "m"),
    }
    driving = {
        "rolling_resistance": "1",
        "drive_efficiency": "1",
        "engine_reserve": "1",
        "speed_ceiling": "km/h",
        "field_efficiency": "%",
        "unloading_margin": "1",
        "feed_exponent_low": "1",
        "feed_exponent_high": "1",
    }
    bands = [("small", 0, 150), ("large", 150, 1000)]
    specific = {
        "separation_capacity_per_area": figure(3, "t/(h.m2)"),
        "cleaning_capacity_per_area": figure(6, "t/(h.m2)"),
        "fan_air_speed_max": figure(10, "m/s"),
        "fan_speed_ratio_min": figure(0.4, "1"),
    }
    sieves = [("upper", "standard_lip", 1), ("lower", "standard_lip", 1), ("upper", "deep_lip", 1.2)]
    model = {"a_kw": 20, "c_kwh_t": 3, "range_pct": 50, "feed": "mog", **practice()}
    return {
        "band": [{"id": i, "names": names(i), "power_from_kw": lo, "power_to_kw": hi} for i, lo, hi in bands],
        "machine_class": [
            {"id": c, "names": names(c), "principle": names(c), "thresher": "drum", "settings": [*SETTINGS]}
            for c in CLASSES
        ],
        "defaults": [{"classes": [c], "band": band, **deepcopy(defaults)} for c in CLASSES for band, _, _ in bands],
        "specific": [{"classes": [*CLASSES], **specific}],
        "sieve": [
            {"design": design, "sieve": sieve, "factor": f, "factor_low": f, "factor_high": f, **practice()}
            for sieve, design, f in sieves
        ],
        "power": [{"id": ident, **model} for ident in ("small_grain", "maize")],
        "driving": {key: figure(1, unit) for key, unit in driving.items()},
    }


def responses():
    rule = {
        "id": "first.cracked",
        "ladder": "fan",
        "when": {},
        "setting": "threshing_speed",
        "direction": "down",
        "step": 5,
    }
    return {
        "response": [
            response("all.threshing_speed.moisture", "grain_moisture", knots=[[0, 0], [5, 5]]),
            response("all.concave_clearance.moisture", "grain_moisture", knots=[[0, 0], [5, -5]]),
            response("cereal.concave_clearance.moisture", "grain_moisture", knots=[[0, 0], [5, -8]], groups=["cereal"]),
            response(
                "all.reel_index.stand", "stand", unit="1", mode="absolute", levels={"leaning": 0.1, "lodged": 0.2}
            ),
        ],
        "first_try": [{**rule, "unit": "%", "why": "cracked", **practice()}],
        "checklist": [
            {"code": "sensors", "list": "checklist", "known": "practice", "source": practice()["source"]},
            {"code": "stop", "list": "caution", "known": "practice", "source": practice()["source"]},
        ],
    }


def economics():
    cost = {
        "repair_rf1": "1",
        "repair_rf2": "1",
        "remaining_c1": "1",
        "remaining_c2": "1",
        "remaining_c3": "1",
        "interest": "%",
        "taxes_insurance_housing": "%",
        "fuel_per_rated_power": "L/(kW.h)",
        "oil_over_fuel": "%",
    }
    speed = {"step_limit": "km/h", "flat_cost": "%", "forms_alike": "1"}
    return {
        "machine_cost": {key: figure(1, unit) for key, unit in cost.items()},
        "speed": {key: figure(1, unit) for key, unit in speed.items()},
        "timeliness": [{"id": "wheat.timeliness", "crop": "wheat", "loss_per_day": figure(0.01, "1")}],
    }


def influence():
    look = {"look": {"en": "In the tank.", "de": "Im Korntank."}}
    outcome = {"kind": "damage", "usual": 0.5, "usual_log_sd": 0.4, "symptom": True, **look, **practice()}
    both = ["unthreshed", "cracked"]
    effect = {"setting": "threshing_speed", "slope_sd": 0.1, **practice()}
    method = {
        "check_distance": "m",
        "start_sd": "1",
        "measured_log_sd": "1",
        "severity_log_sd": "1",
        "tell_tale_slope": "1",
        "tell_tale_slope_sd": "1",
        "kept_share": "1",
        "least_saving": "1",
        "least_first_saving": "1",
    }
    wishes = ("balanced", "loss", "sample", "output", "straw")
    return {
        "method": {key: figure(1, unit) for key, unit in method.items()},
        "unrelated": {"slope_sd": 0.03, "curvature": 0, "curvature_sd": 0.01, **practice()},
        "lever": [
            {"id": f"lever.{s}", "setting": s, "step": 5, "unit": "%", "max_steps": 2, **practice()}
            | ({} if s == "threshing_speed" else {"no_effect": both})
            for s in SETTINGS
        ],
        "outcome": [{"id": o, "names": names(o), **outcome} for o in both],
        "effect": [
            {"id": "speed.unthreshed", "outcome": "unthreshed", "slope": -0.1, **effect},
            {"id": "speed.cracked", "outcome": "cracked", "slope": 0.2, **effect},
        ],
        "tell_tale": [
            {
                "id": "returns_normal",
                "symptom": "cracked",
                "pulls": [{"setting": "threshing_speed", "direction": "down"}],
                **practice(),
            }
        ],
        "mistake": [{"id": "wrong_concave", "symptoms": both, "needs": 2, **practice()}],
        "weighting": [{"priority": w, "weights": {"unthreshed": 1, "cracked": 1}, **practice()} for w in wishes],
    }


def hauling():
    units = {
        "unloading_rate": "L/s",
        "docking": "s",
        "cart_speed": "km/h",
        "edge_drive_out": "s",
        "edge_drive_back": "s",
    }
    percents = ["reduced_share", "call_level", "call_reserve", "turning_efficiency", "time_variation", "least_room"]
    units |= dict.fromkeys([*percents, "enough", "plan_flat"], "%")
    return {
        "figures": {name: figure(10, unit) for name, unit in units.items()},
        "bulk_density": [],
        "finding": [{"code": "queue", "topic": "formula", **practice()}],
    }


def vocabulary():
    return {
        "quantity": [
            quantity("threshing_speed", "m/s", 3, 45, grain_moisture="rises", straw_condition="rises"),
            quantity("concave_clearance", "mm", 1, 80, grain_moisture="falls"),
            quantity("cleaning_air_share", "1", 0, 1, setting=False),
            quantity("cleaning_air_speed", "m/s", 0.5, 20),
            quantity("upper_sieve_opening", "mm", 1, 60),
            quantity("reel_index", "1", 0.7, 2, stand="rises"),
        ]
    }


def source(ident, kind="handbook", *, opened=True):
    return {"id": ident, "kind": kind, "authors": "Invented", "title": "Invented", "opened": opened}


class Book:
    """The folder as nested data under file names; `write` puts it on disk and stamps the revision."""

    def __init__(self, folder: Path):
        self.folder = folder / "knowledge"
        self.extra = folder / "extra"
        self.files = {
            "vocabulary.toml": vocabulary(),
            "machines.toml": machines(),
            "responses.toml": responses(),
            "economics.toml": economics(),
            "influence.toml": influence(),
            "hauling.toml": hauling(),
            "sources/common.toml": {"source": [source("common-practice", "practice", opened=False)]},
            "sources/books.toml": {"source": [source("opened-book")]},
            "crops/wheat.toml": wheat(),
            "crops/barley.toml": barley(),
            "crops/maize.toml": maize(),
        }
        self.appended = {}  # raw text behind a file
        self.made_up = crop("moonwheat", "Moonwheat", ["lunar wheat"], "ZZZZZ")
        self.made_up["row"] = [
            {**entry, "id": entry["id"].replace("wheat", "moonwheat")}
            for entry in wheat()["row"]
            if "derived" not in entry
        ]
        self.made_up["coverage"]["starting_settings"] = {
            "level": "partial",
            "classes": [c for c in CLASSES if c != "hybrid"],
            "why": {"en": "A proof."},
        }
        for entry in self.made_up["row"]:
            entry["classes"] = [c for c in entry["classes"] if c != "hybrid"]

    @property
    def wheat(self):
        return self.files["crops/wheat.toml"]

    @property
    def machines(self):
        return self.files["machines.toml"]

    @property
    def responses(self):
        return self.files["responses.toml"]

    def row(self, ident):
        return next(entry for entry in self.wheat["row"] if entry["id"] == ident)

    def write(self, *, stamp=True, comment="", turned=False):
        for name, content in self.files.items():
            path = self.folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(comment + toml(content, turned=turned) + self.appended.get(name, ""), encoding="utf-8")
        tree = read_tree(self.folder).tree
        if stamp and tree is not None:
            self.stamp("2026.11.1", digest(tree))
        return self

    def stamp(self, ident, found):
        revision = {"id": ident, "released": "2026-11-25", "digest": found}
        (self.folder / "revision.toml").write_text(toml(revision), encoding="utf-8")
        (self.folder / "CHANGES.md").write_text(f"# Changes\n\n## {ident}\n\nFirst.\n", encoding="utf-8")

    def write_extra(self, **files):
        self.extra.mkdir(exist_ok=True)
        for name, content in files.items():
            (self.extra / f"{name}.toml").write_text(toml(content), encoding="utf-8")
        return self.extra

    def load(self, extra=None):
        return load_table(self.folder, extra)

    def faults(self, extra=None):
        with pytest.raises(KnowledgeFault) as caught:
            self.load(extra)
        return caught.value.faults


def toml(content, *, turned=False):
    """TOML text of nested data, one key a line; `turned` writes tables and their keys in reverse."""
    items = list(content.items())
    return "".join(f"{key} = {_inline(value, turned)}\n" for key, value in (reversed(items) if turned else items))


def _inline(value, turned):
    if isinstance(value, dict):
        items = list(value.items())
        pairs = (f"{k} = {_inline(v, turned)}" for k, v in (reversed(items) if turned else items))
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(item, turned) for item in value) + "]"
    if isinstance(value, float) and math.isnan(value):
        return "nan"
    return json.dumps(value, ensure_ascii=False)


@pytest.fixture
def book(tmp_path):
    return Book(tmp_path)


@pytest.fixture
def table(book):
    return book.write().load()
