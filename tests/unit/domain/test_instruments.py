"""Hydrometer and refractometer corrections against printed charts and fits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.errors import OutOfRange
from apps.domain.instruments import (
    HOT_TEST_C,
    SAP_HYDROMETER_C,
    SYRUP_HYDROMETER_C,
    OffScale,
    hydrometer_reading_brix,
    refractometer_correction_brix,
    true_brix_from_hydrometer,
    true_brix_from_refractometer,
)
from apps.domain.units import celsius_from_fahrenheit

# Chart of a 60 F syrup hydrometer in 66.0 Brix syrup (printed chart, publisher not shown; nine
# pairs read). Tolerance 0.3 Brix hot: read to 0.1-0.5, and the density is carried past 80 C.
CHART_66 = [
    (209, 58.0),
    (202, 58.5),
    (193, 59.0),
    (185, 59.5),
    (180, 59.7),
    (176, 60.0),
    (167, 60.5),
    (158, 61.0),
    (149, 61.5),
]
# Evaporator maker's manual (2014) p. 18, 66.9 Brix syrup: hot test 211 F, cold test 60 F. The cold
# test is the instrument's own temperature, hence exact; the hot one within 0.3 as above.
MANUAL_669 = [(211, 59.1, 0.3), (60, 66.9, 1e-9)]
# Musther's published fit of must-hydrometer corrections (vinolab.hr), instrument made for 20 C:
# what to add to the reading. Tolerance 0.05: printed to 0.01, stated for must, ours for sucrose.
MUSTHER = [
    (2.0, 10.0, -0.32),
    (2.0, 15.0, -0.21),
    (2.0, 25.0, 0.27),
    (2.0, 30.0, 0.61),
    (15.0, 10.0, -0.46),
    (15.0, 15.0, -0.26),
    (15.0, 25.0, 0.31),
    (15.0, 30.0, 0.66),
    (25.0, 10.0, -0.57),
    (25.0, 15.0, -0.31),
    (25.0, 25.0, 0.34),
    (25.0, 30.0, 0.71),
]
# OIV-MA-AS2-02 Table I (readings 10-75 at 5-17 C) and the GOST Table A.1 (0 and 5, and 18, 19 and
# 21 C): printed cells, exact. Typed from the tables a second time, apart from the module.
PRINTED_CELLS = [
    (10, 5, -0.82),
    (30, 5, -0.99),
    (20, 8, -0.76),
    (10, 10, -0.59),
    (20, 10, -0.65),
    (40, 10, -0.72),
    (65, 10, -0.75),
    (75, 10, -0.75),
    (10, 12, -0.49),
    (60, 12, -0.61),
    (75, 14, -0.45),
    (10, 15, -0.32),
    (65, 15, -0.38),
    (40, 16, -0.30),
    (70, 17, -0.23),
    (0, 10, -0.50),
    (5, 10, -0.54),
    (0, 15, -0.27),
    (5, 16, -0.24),
    (15, 18, -0.14),
    (70, 19, -0.08),
    (66, 20, 0.0),
    (0, 21, 0.06),
    (70, 21, 0.08),
]
# Cells the GOST table prints as well as the OIV one: two committees, told apart by 0.04 at most.
GOST_CELLS = [(10, 10, -0.58), (70, 10, -0.79), (30, 12, -0.56), (65, 15, -0.40), (20, 17, -0.21)]


@pytest.mark.parametrize(("fahrenheit", "printed"), CHART_66)
def test_the_mark_for_66_brix_matches_the_printed_chart(fahrenheit, printed):
    mark = hydrometer_reading_brix(66.0, celsius_from_fahrenheit(float(fahrenheit)))
    assert mark == pytest.approx(printed, abs=0.3)


@pytest.mark.parametrize(("fahrenheit", "printed", "tolerance"), MANUAL_669)
def test_the_hot_and_cold_marks_match_the_manual(fahrenheit, printed, tolerance):
    mark = hydrometer_reading_brix(66.9, celsius_from_fahrenheit(float(fahrenheit)))
    assert mark == pytest.approx(printed, abs=tolerance)


def test_the_hot_test_is_taken_at_211_fahrenheit():
    assert pytest.approx(99.4444, abs=1e-4) == HOT_TEST_C
    assert true_brix_from_hydrometer(59.0, HOT_TEST_C) == pytest.approx(66.9, abs=0.1)


@pytest.mark.parametrize(("reading", "celsius", "printed"), MUSTHER)
def test_cold_and_warm_sap_corrections_match_a_published_fit(reading, celsius, printed):
    correction = true_brix_from_hydrometer(reading, celsius, made_for_c=20.0) - reading
    assert correction == pytest.approx(printed, abs=0.05)


def test_cold_sap_reads_a_tenth_high_on_a_syrup_hydrometer():
    # Published: 2.00 Brix sap reads 2.20 at 38 F on a 60 F instrument.
    mark = hydrometer_reading_brix(2.0, celsius_from_fahrenheit(38.0))
    assert mark == pytest.approx(2.20, abs=0.01)


def test_instruments_are_made_for_38_and_60_fahrenheit():
    assert pytest.approx(10 / 3, abs=1e-12) == SAP_HYDROMETER_C
    assert pytest.approx(140 / 9, abs=1e-12) == SYRUP_HYDROMETER_C


@pytest.mark.parametrize("fahrenheit", [32.0, 36.0, 42.0, 46.0])
def test_a_sap_hydrometer_needs_no_correction_in_the_sap_range(fahrenheit):
    # Published: no correction from 32 to 46 F for an instrument made for 38 F; 0.05 Brix is half
    # the finest division of a sap hydrometer.
    mark = hydrometer_reading_brix(2.0, celsius_from_fahrenheit(fahrenheit), SAP_HYDROMETER_C)
    assert mark == pytest.approx(2.0, abs=0.05)


@given(st.floats(5.0, 65.0), st.floats(0.0, 99.0))
def test_hydrometer_correction_undoes_itself(true_brix, celsius):
    try:
        mark = hydrometer_reading_brix(true_brix, celsius)
    except OffScale:
        return
    assert true_brix_from_hydrometer(mark, celsius) == pytest.approx(true_brix, abs=1e-9)


@given(st.floats(20.0, 65.0), st.floats(0.0, 99.0))
def test_hotter_syrup_shows_less(true_brix, celsius):
    hotter = hydrometer_reading_brix(true_brix, celsius + 1.0)
    assert hotter < hydrometer_reading_brix(true_brix, celsius)


@given(st.floats(0.0, 70.0))
def test_at_its_own_temperature_a_hydrometer_tells_the_truth(brix):
    assert hydrometer_reading_brix(brix, SYRUP_HYDROMETER_C) == pytest.approx(brix, abs=1e-9)


@pytest.mark.parametrize(("reading", "celsius", "printed"), PRINTED_CELLS)
def test_refractometer_corrections_are_the_printed_ones(reading, celsius, printed):
    correction = refractometer_correction_brix(float(reading), float(celsius))
    assert correction == pytest.approx(printed, abs=1e-12)


@pytest.mark.parametrize(("reading", "celsius", "printed"), GOST_CELLS)
def test_two_printed_tables_agree(reading, celsius, printed):
    correction = refractometer_correction_brix(float(reading), float(celsius))
    assert correction == pytest.approx(printed, abs=0.041)


@pytest.mark.parametrize(
    ("reading", "celsius", "true_brix"),
    # Worked by hand from OIV-MA-AS2-02 Table I: 66.3 read at 15 C is 65.92; between rows the mean.
    [(66.3, 15.0, 65.92), (66.3, 14.5, 65.88), (12.5, 10.0, 11.895), (66.3, 20.0, 66.3)],
)
def test_a_refractometer_reading_is_corrected(reading, celsius, true_brix):
    assert true_brix_from_refractometer(reading, celsius) == pytest.approx(true_brix, abs=1e-9)


@given(st.floats(0.0, 70.0), st.floats(10.0, 20.5))
def test_a_colder_prism_needs_more_taken_off(reading, celsius):
    colder = refractometer_correction_brix(reading, celsius)
    assert colder <= refractometer_correction_brix(reading, celsius + 0.5)


@pytest.mark.parametrize(
    ("reading", "celsius"), [(40.0, 7.0), (5.0, 9.9), (72.0, 17.5), (30.1, 9.0), (9.0, 6.0)]
)
def test_what_is_not_printed_is_refused_not_guessed(reading, celsius):
    with pytest.raises(OffScale, match="no correction is printed"):
        refractometer_correction_brix(reading, celsius)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: refractometer_correction_brix(76.0, 15.0), "reading_brix must be between 0 and"),
        (lambda: refractometer_correction_brix(66.0, 22.0), "temperature_c must be between 5 and"),
        (lambda: hydrometer_reading_brix(66.0, 101.0), "temperature_c must be between 0 and 100"),
        (lambda: hydrometer_reading_brix(71.0, 60.0), "brix must be between 0 and 70, not 71"),
        (lambda: hydrometer_reading_brix(66.0, 20.0, 41.0), "made_for_c must be between 0 and 40"),
        (lambda: true_brix_from_hydrometer(-1.0, 20.0), "brix must be between 0 and 70, not -1"),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_range(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: hydrometer_reading_brix(1.0, 60.0), "true_brix 1 at 60 C reads outside the 0"),
        (lambda: hydrometer_reading_brix(70.0, 2.0), "true_brix 70 at 2 C reads outside the 0"),
        (lambda: true_brix_from_hydrometer(0.1, 3.0), "reading_brix 0.1 at 3 C is shown by no"),
        (lambda: true_brix_from_hydrometer(69.0, 99.0), "reading_brix 69 at 99 C is shown by no"),
    ],
)
def test_a_reading_off_the_scale_is_refused(call, message):
    with pytest.raises(OffScale, match=message):
        call()
