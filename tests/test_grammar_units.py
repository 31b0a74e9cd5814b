"""Units and paper weights against published definitions and tables."""

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from foldwright.grammar import units

# data/grammage.csv: an equivalence table as printed in paper guides (column gsm_published), beside values
# computed from the definition of basis weight, pounds per 500 sheets of the basic size (column gsm_exact).
with (Path(__file__).parent / "data" / "grammage.csv").open(encoding="utf-8") as table:
    GRAMMAGES = list(csv.DictReader(table))


def test_table_is_there():
    assert len(GRAMMAGES) == 26


@pytest.mark.parametrize("row", GRAMMAGES, ids=lambda row: f"{row['lb_per_500']} lb {row['category']}")
def test_basis_weight_agrees_with_the_printed_table(row):
    gsm = units.grams_per_square_metre(Fraction(row["lb_per_500"]), row["category"])
    assert abs(gsm - Fraction(row["gsm_exact"])) <= Fraction("0.005")  # the column has two decimals
    # Printed tables round as they like; 80 lb text is printed as 120 for 118.41, the widest difference.
    assert abs(gsm - Fraction(row["gsm_published"])) <= Fraction("1.6")


@pytest.mark.parametrize("row", GRAMMAGES, ids=lambda row: f"{row['lb_per_500']} lb {row['category']}")
def test_basic_size_has_the_area_of_the_table(row):
    width, height = units.BASIC_SIZE[row["category"]]
    assert width * height == Fraction(row["basic_size_in2"])


def test_every_grade_is_checked():
    assert {row["category"] for row in GRAMMAGES} == set(units.GRADES)


# Worked conversions printed in paper guides: 90 lb offset x 1.4802 = 133.218; 100 lb cover x 2.7042 = 270.42.
# Their factors are rounded to four decimals (1.48015, 2.70411 exactly): up to 0.01 in the product.
@pytest.mark.parametrize(("pounds", "grade", "printed"), [(90, "text", "133.218"), (100, "cover", "270.42")])
def test_basis_weight_agrees_with_worked_examples(pounds, grade, printed):
    assert abs(units.grams_per_square_metre(Fraction(pounds), grade) - Fraction(printed)) <= Fraction("0.01")


# Exact by definition: 1 in = 25.4 mm (agreement of 1959), 1 pt = 1/72 in (CSS Values and Units).
@pytest.mark.parametrize(
    ("value", "unit", "mm"),
    [
        ("5.5", "in", "139.7"),
        ("1/16", "in", "1.5875"),
        ("72", "pt", "25.4"),
        ("2.1", "cm", "21"),
        ("2.54", "cm", "25.4"),
        ("7", "mm", "7"),
    ],
)
def test_lengths_are_exact(value, unit, mm):
    assert units.millimetres(Fraction(value), unit) == Fraction(mm)


def test_no_length_in_grams():
    with pytest.raises(KeyError):
        units.millimetres(Fraction(1), "gsm")


def test_degree_sign_is_a_unit():
    assert units.unit_named("°") == "deg"
    assert units.unit_named("furlong") is None
