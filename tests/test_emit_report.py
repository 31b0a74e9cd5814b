"""The report: valid by its own schema, true to the card, and the poses true to the fold."""

import json
import math
from dataclasses import replace
from typing import Any

import cards
import jsonschema
import numpy as np
import pytest

from foldwright.emit.layout import lay_out
from foldwright.emit.report import CAUTIONS, VERSION, pose_angles, posed, report, schema, write_report
from foldwright.solver.card import Card
from foldwright.solver.model import Rule
from foldwright.solver.swing.events import Writer

RUBS = Writer("mm", 180.0).too_close(("quay.left", "boat"), (10.0, 5.0, 30.0), 40.0, 60.0, 0.1, 0.25)


def data(card: Card | None = None, angles: tuple[float, ...] = (0.0, 90.0, 180.0)) -> dict[str, Any]:
    card = card or cards.harbour()
    read: dict[str, Any] = json.loads(write_report(report(card, lay_out(card), angles, (RUBS,))))
    return read


def test_the_schema_is_a_schema_and_reports_are_valid() -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    checker = jsonschema.Draft202012Validator(schema())
    checker.validate(data())
    checker.validate(data(cards.crowd(5)))
    broken = data()
    broken["parts"][0]["sheet"] = 0
    with pytest.raises(jsonschema.ValidationError):
        checker.validate(broken)


def test_every_field_of_a_report_is_described() -> None:
    described = schema()
    assert set(data()) == set(described["properties"]) == set(described["required"])
    lists = [key for key, value in data().items() if isinstance(value, list) and value and isinstance(value[0], dict)]
    assert len(lists) == 14
    for key in lists:
        items = described["properties"][key]["items"]
        assert set(data()[key][0]) == set(items["properties"]) == set(items["required"]), key


def test_the_version_is_the_schemas() -> None:
    assert schema()["properties"]["version"]["const"] == VERSION == data()["version"]


def test_dimensions_are_exact_and_readable() -> None:
    assert data()["dimensions"] == [
        {"name": "quay.wall", "exact": "65", "value": 65.0, "unit": "mm"},
        {"name": "quay.tab", "exact": "79/8", "value": 9.875, "unit": "mm"},
        {"name": "boat.lean", "exact": "90", "value": 90.0, "unit": "°"},
    ]


def test_rules_say_what_limits_the_card_and_where_it_is_written() -> None:
    fit, tab = data()["rules"]
    assert fit["sentence"] == "the ridge reaches 115 mm from the spine and may reach 117 mm"
    assert (fit["slack"], fit["line"], fit["kind"], fit["operator"]) == (2.0, 2, "geometry", "<=")
    assert tab["sentence"].endswith("{wide}")  # braces that are no side of the rule stay


def test_a_rule_about_angles_speaks_in_degrees_and_may_have_no_line() -> None:
    card = cards.harbour()
    first = card.rules[0]
    rule = Rule("lean", first.rule.kind, first.rule.left, "=", first.rule.right, "leans {left}", (), True)
    found = data(replace(card, rules=(replace(first, rule=rule, left=45.0),)))["rules"][0]
    assert (found["sentence"], found["unit"], found["line"]) == ("leans 45°", "°", None)


def test_wishes_tell_what_was_reached_and_proved() -> None:
    (wish,) = data()["wishes"]
    assert wish == {
        "text": "largest quay.wall",
        "direction": "largest",
        "value": 65.0,
        "bound": 70.0,
        "grain": 0.5,
        "proved": False,
        "line": None,
    }


def test_parts_and_sheets_agree() -> None:
    found = data()
    for part in found["parts"]:
        (sheet,) = [s for s in found["sheets"] if s["number"] == part["sheet"]]
        assert sheet["paper"] == part["paper"]
        assert part["name"] in [placed["name"] for placed in sheet["parts"]]
    assert found["parts"][0]["size"] == [240.0, 160.0]
    assert found["parts"][0]["area"] == 38400.0
    quay = cards.quay_part().outline.area
    assert found["sheets"][1]["fill"] == pytest.approx(quay / 292.1**2, abs=1e-6)  # six decimals are written


def corners(found: dict[str, Any]) -> dict[float, dict[str, Any]]:
    """By angle and panel its corners in space, as the schema tells a reader to find them."""
    outlines = {panel["name"]: np.array(panel["outline"]) for panel in found["panels"]}
    return {pose["angle"]: {name: at[0] + outlines[name] @ np.array(at[1:]) for name, at in pose["panels"].items()}
            for pose in found["poses"]}


def test_poses_follow_the_closed_form_of_the_fold() -> None:
    poses = corners(data(angles=(0.0, 60.0, 180.0)))
    for angle, panels in poses.items():
        half = math.radians(angle) / 2
        left, right = np.array(panels["quay.left"]), np.array(panels["quay.right"])
        ridge = left[:, 2].max()
        height = cards.FOOT * math.cos(half) + math.sqrt(cards.WALL**2 - (cards.FOOT * math.sin(half)) ** 2)
        assert ridge == pytest.approx(height, abs=1e-5)  # eight decimals of a unit vector times 240 mm, and six of its origin
        assert right[:, 2].max() == pytest.approx(ridge, abs=1e-5)
        assert left[:, 1].min() == pytest.approx(-right[:, 1].max(), abs=1e-5)
    (asked,) = posed(cards.harbour(), (60.0,))  # what `foldwright pose` prints: the corners themselves
    assert asked["angle"] == 60.0
    for name, wanted in asked["panels"].items():
        assert poses[60.0][name] == pytest.approx(np.array(wanted), abs=2e-4)  # outlines have four decimals
    closed = [corner for panel, corners in poses[0.0].items() if panel != "boat" for corner in corners]
    assert max(abs(corner[1]) for corner in closed) == 0  # folded flat into one plane


def test_text_has_no_minus_zero_and_no_nan() -> None:
    text = write_report(report(cards.harbour(), lay_out(cards.harbour()), pose_angles(180.0), ())).decode()
    assert "-0.0," not in text
    assert "-0.0]" not in text
    assert "NaN" not in text
    with pytest.raises(ValueError, match="JSON compliant"):
        write_report({"x": float("nan")})


def test_lists_of_numbers_are_short_and_strings_untouched() -> None:
    odd = {"text": "a [ 1, 2 ]\n[ 3 ]", "pairs": [[1.0, 2.0], [3.0, -4.5e-05]], "words": ["1", "2"]}
    text = write_report(odd).decode()
    assert json.loads(text) == odd
    assert "[1.0, 2.0]" in text


@pytest.mark.parametrize(("opens", "angles"), [(180.0, 13), (90.0, 7), (100.0, 8), (10.0, 2)])
def test_angles_go_from_closed_to_open(opens: float, angles: int) -> None:
    found = pose_angles(opens)
    assert (len(found), found[0], found[-1]) == (angles, 0.0, opens)


@pytest.mark.parametrize("word", ["blade", "laser", "children", "glue", "Candles", "Local rules", "makers"])
def test_cautions_name_what_can_hurt_and_who_decides(word: str) -> None:
    assert any(word in caution for caution in CAUTIONS)
    assert data()["cautions"] == list(CAUTIONS)


def test_the_closed_card_is_a_map_of_sheets() -> None:
    closed = data()["closed"]
    described = schema()["properties"]["closed"]
    assert set(closed) == set(described["properties"]) == set(described["required"])
    rows = np.array(closed["rows"])
    assert rows.shape == (closed["width"] / closed["cell"][1], closed["height"] / closed["cell"][0]) == (120, 160)
    along, away = (int(place / cell) for place, cell in zip(closed["thickest"], closed["cell"], strict=True))
    assert rows[away, along] == rows.max() == 5
    assert closed["maximum"] == pytest.approx(3 * cards.INK.caliper + 2 * cards.SAND.caliper)
    assert closed["needs"]["gusset"] == pytest.approx(closed["needs"]["contents"] + cards.INK.caliper)
    assert any("5 sheets" in sentence for sentence in closed["words"])


def test_the_standing_card_tells_what_its_reader_has() -> None:
    card = cards.harbour()
    found = data(card)["standing"]
    described = schema()["properties"]["standing"]
    assert set(found) == set(described["properties"]) == set(described["required"])
    assert (found["width"], found["depth"]) == (240.0, 160.0)
    assert set(found["faces"]) == {panel.name for panel in card.panels if not panel.tab}
    assert found["rest"]["flat"] == (min(found["rest"]["left"], found["rest"]["right"]) >= found["rest"]["spring"])
    corner = data(replace(card, opens=90.0), (0.0, 90.0))
    jsonschema.Draft202012Validator(schema()).validate(corner)
    assert corner["standing"]["rest"] is None


def test_a_panel_stands_there_once_however_many_poses_there_are() -> None:
    card = cards.harbour()
    few, many = (len(write_report(report(card, lay_out(card), angles, ()))) for angles in ((0.0,), pose_angles(180)))
    frames = 12 * len(card.panels)
    assert (many - few) / frames < 300  # three rows of three numbers and a name, whatever the outline
