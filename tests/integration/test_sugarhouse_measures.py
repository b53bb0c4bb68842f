"""Readings and predictions: plain arithmetic, no database."""

import pytest

from apps.domain.errors import DomainError
from apps.domain.tank import HorizontalCylinder, VerticalCylinder
from apps.sugarhouse import prediction, readings
from apps.sugarhouse.prediction import Equivalent
from apps.sugarhouse.readings import Readings, ReadingsDoNotRise


@pytest.mark.parametrize(
    ("start", "end", "rolls_over_at", "passed"),
    [
        (412, 655, None, 243),
        (0, 1, None, 1),
        (9990, 10, 10_000, 20),
        # A figure that rose did not roll over, whatever the instrument could do.
        (10, 20, 10_000, 10),
    ],
)
def test_how_far_an_instrument_went(start, end, rolls_over_at, passed):
    assert Readings(start, end, rolls_over_at).passed == passed


@pytest.mark.parametrize(
    ("start", "end", "rolls_over_at"),
    [(10, 10, None), (10, 10, 100), (10, 5, None), (-1, 5, None), (1, float("nan"), None)],
)
def test_readings_that_cannot_be_are_refused(start, end, rolls_over_at):
    with pytest.raises(DomainError):
        _ = Readings(start, end, rolls_over_at).passed


def test_start_above_where_it_rolls_over_is_refused():
    with pytest.raises(DomainError, match="start reading must be between 0 and 1000"):
        _ = Readings(5000, 5, 1000).passed


def test_dumps_times_litres_each():
    # 243 dumps of 3.5 US gallons are 850.5 gal.
    assert readings.dump_litres(Readings(412, 655), 3.5 * 3.785411784) == pytest.approx(
        850.5 * 3.785411784
    )


@pytest.mark.parametrize("litres_per_count", [0.0, -1.0, 20_000.0])
def test_impossible_dump_is_refused(litres_per_count):
    with pytest.raises(DomainError, match="litres_per_count"):
        readings.dump_litres(Readings(1, 2), litres_per_count)


def test_meter_is_its_difference():
    assert readings.meter_litres(Readings(100.5, 350.25)) == 249.75


def test_rise_on_a_round_tank_is_not_read_in_a_straight_line():
    # The lower half of a tank on its side holds half; its lowest quarter of depth 19.55 %
    # (segment at h = R/2: (pi/3 - sqrt(3)/4) / pi).
    tank = HorizontalCylinder(diameter_mm=1000.0, length_mm=1000.0)
    rise = readings.tank_rise_litres(tank, Readings(0.0, 250.0))
    assert rise / tank.full_litres == pytest.approx(0.19550, abs=1e-5)


@pytest.mark.parametrize(("start", "end"), [(500.0, 500.0), (500.0, 400.0)])
def test_tank_that_did_not_rise_is_refused(start, end):
    tank = VerticalCylinder(diameter_mm=1000.0, height_mm=1000.0)
    with pytest.raises(ReadingsDoNotRise):
        readings.tank_rise_litres(tank, Readings(start, end))


# Gallons of sap to one of syrup at 66.0 Brix, published: 87.1 / x - 0.32 (Perkins and Isselhardt,
# UVM Proctor, in Farming Magazine; the 0.32 from a Vermont packer's note crediting Proctor).
@pytest.mark.parametrize(
    ("brix", "ratio"), [(1.0, 86.78), (2.0, 43.23), (2.5, 34.52), (3.0, 28.713)]
)
def test_sap_is_predicted_by_the_published_rule(brix, ratio):
    assert prediction.equivalent(ratio, brix, 66.0).litres == pytest.approx(1.0, rel=2e-5)


def test_line_for_denser_syrup_is_the_published_one():
    # 88.2 / 2 - 0.32 = 43.78 (Farming Magazine).
    assert prediction.equivalent(43.78, 2.0, 66.9).litres == pytest.approx(1.0)


def test_concentrate_goes_by_mass_balance_with_the_rule_beside():
    found = prediction.equivalent(100.0, 8.0, 66.0)
    # Mass balance 10.595, the rule 10.568 (computed from the density polynomial, and 87.1/8-.32).
    assert found.litres == pytest.approx(100 / 10.595, rel=1e-4)
    assert found.other_litres == pytest.approx(100 / 10.5675, rel=1e-6)


def test_equivalents_add_up_and_an_unknown_other_stays_unknown():
    both, alone = Equivalent(1.0, 2.0), Equivalent(3.0, None)
    assert prediction.total([both, both]) == Equivalent(2.0, 4.0)
    assert prediction.total([both, alone]) == Equivalent(4.0, None)


def test_restated_syrup_holds_the_same_sugar():
    # UVM Extension, Sap Pricing: 11.073 and 11.027 lb a gallon in air at 66.9 and 66.0 Brix.
    expected = 11.073 * 66.9 / (11.027 * 66.0)
    assert prediction.restated_litres(1.0, 66.9, 66.0) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    ("syrup_brix", "said"),
    [(66.0, "(published)"), (66.5, "(derived)"), (66.9, "88.2/x"), (67.5, "no published line")],
)
def test_page_says_which_ratio_and_how_well_founded(syrup_brix, said):
    assert said in prediction.describe(syrup_brix)
