"""Whole tables under fixtures/reference, every row of them, each row naming its source."""

import csv
from pathlib import Path

import pytest

from apps.domain.errors import OutOfRange
from apps.domain.instruments import (
    REFRACTOMETER_HUNDREDTHS,
    hydrometer_reading_brix,
    refractometer_correction_brix,
)
from apps.domain.sugar import sap_per_syrup_jones, sap_per_syrup_mass_balance
from apps.domain.units import celsius_from_fahrenheit

TABLES = Path(__file__).parents[3] / "fixtures" / "reference"
# The module's own choice where both tables print a cell: OIV for readings of 10 and over.
OIV_TEMPERATURES_C = range(5, 18)
# A printed chart is read to 0.5 hot; a table worked apart is rounded to 0.1.
MARK_TOLERANCE_BRIX = {"printed chart": 0.3, "worked apart": 0.06}


def _rows(name):
    with (TABLES / name).open(newline="") as table:
        return list(csv.DictReader(table))


def _is_the_chosen_print(row):
    from_oiv = row["source"].startswith("OIV")
    oiv_prints_it = int(row["reading_brix"]) >= 10 and int(row["temperature_c"]) in (
        OIV_TEMPERATURES_C
    )
    return from_oiv == oiv_prints_it


def test_every_row_of_every_table_names_its_source():
    for name in ("refractometer_corrections.csv", "hydrometer_marks.csv", "sap_per_syrup.csv"):
        assert all(row["source"] for row in _rows(name)), name


def test_every_printed_refractometer_correction_is_reproduced():
    chosen = [row for row in _rows("refractometer_corrections.csv") if _is_the_chosen_print(row)]
    for row in chosen:
        reading, celsius = float(row["reading_brix"]), float(row["temperature_c"])
        printed = pytest.approx(float(row["correction_brix"]), abs=1e-12)
        assert refractometer_correction_brix(reading, celsius) == printed, row
    # Nothing is in the module that is not in print, but for the zeros at 20 C.
    held = sum(
        value == value
        for celsius, row in REFRACTOMETER_HUNDREDTHS.items()
        if celsius != 20
        for value in row
    )
    assert held == len(chosen)


def test_the_two_refractometer_tables_agree_where_both_print():
    passed_over = [
        row for row in _rows("refractometer_corrections.csv") if not _is_the_chosen_print(row)
    ]
    assert len(passed_over) == 104
    for row in passed_over:
        ours = refractometer_correction_brix(
            float(row["reading_brix"]), float(row["temperature_c"])
        )
        assert ours == pytest.approx(float(row["correction_brix"]), abs=0.041), row


def test_refractometer_corrections_are_zero_at_twenty_celsius():
    for reading in range(76):
        assert refractometer_correction_brix(float(reading), 20.0) == 0.0


def test_every_hydrometer_mark_is_reproduced():
    for row in _rows("hydrometer_marks.csv"):
        tolerance = next(
            brix for words, brix in MARK_TOLERANCE_BRIX.items() if row["source"].startswith(words)
        )
        celsius = celsius_from_fahrenheit(float(row["temperature_f"]))
        mark = hydrometer_reading_brix(float(row["true_brix"]), celsius)
        assert mark == pytest.approx(float(row["mark_brix"]), abs=tolerance), row


def _ratio(row):
    sap_brix, syrup_brix = float(row["sap_brix"]), float(row["syrup_brix"])
    if row["method"] == "jones":
        return sap_per_syrup_jones(sap_brix, syrup_brix)
    return sap_per_syrup_mass_balance(sap_brix, syrup_brix)


def test_every_sap_per_syrup_ratio_is_reproduced():
    # Printed to 0.001; a sap richer than its syrup is refused instead.
    for row in _rows("sap_per_syrup.csv"):
        if float(row["sap_brix"]) > float(row["syrup_brix"]):
            with pytest.raises(OutOfRange, match="sap_brix"):
                _ratio(row)
        else:
            assert _ratio(row) == pytest.approx(float(row["sap_per_syrup"]), abs=0.00051), row
