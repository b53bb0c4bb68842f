"""One small season, its figures worked by hand in gallons beside each test.

Ratios: revised Jones rule at 66.0 Brix as published, 87.1 / x - 0.32 (Perkins and Isselhardt, UVM
Proctor): 43.230 at 2.0, 34.520 at 2.5, 28.713 at 3.0 gallons of sap to one of syrup.
"""

from datetime import timedelta
from decimal import Decimal

import pytest

from apps.domain.units import litres_from_us_gallons as gallons
from apps.season.queries import season_yield
from tests.factories import sugarhouse, tapping, woods

pytestmark = pytest.mark.django_db


@pytest.fixture
def north():
    return woods.woodlot("North")


@pytest.fixture
def south():
    woodlot = woods.woodlot("South")
    woods.line(woodlot, planned_taps=300)
    return woodlot


@pytest.fixture
def counted(north, crew):
    """500 taps counted as set in the north, where 450 were planned; the south is only planned."""
    tapping.tally(woods.line(north, planned_taps=450), crew, taps_set=500)


@pytest.fixture
def season(north, south, counted):
    """In: north 1,000 gal at 2.0 and 400 at 2.5, south 500 at 3.0, bought 200 at 2.0.

    Out: 100 of the north's first load dumped, 50 of the south's sold. Batch 1, 33.00 gal, took
    900 north at 2.0, 250 south and the 200 bought; batch 2, 8.50 gal, took 300 north at 2.5.
    Left: 100 north at 2.5 and 200 south.
    """
    first = received(north, 1000, 2.0, left=0)
    second = received(north, 400, 2.5, left=100)
    third = received(south, 500, 3.0, left=200)
    bought = received(None, 200, 2.0, left=0)
    sugarhouse.sap_out(first, kind="dumped", volume_litres=gallons(100.0))
    sugarhouse.sap_out(third, kind="sold", volume_litres=gallons(50.0))
    boil(1, 33.0, (first, 900), (third, 250), (bought, 200))
    boil(2, 8.5, (second, 300))


def received(woodlot, volume, brix, *, left):
    return sugarhouse.sap_in(
        woodlot,
        volume_litres=gallons(float(volume)),
        brix=brix,
        remaining_litres=gallons(float(left)),
    )


def boil(number, syrup, *sap, **fields):
    parts = [(row, gallons(float(volume))) for row, volume in sap]
    return sugarhouse.batch(number, syrup_litres=gallons(syrup), sap=parts, **fields)


def review(unit_system="us", syrup_brix=66.0, season=2026):
    return season_yield(season, unit_system, syrup_brix)


def by_name(result):
    rows = (*result.woodlots, result.all_woodlots, result.bought, result.operation)
    return {row.name: row for row in rows if row}


@pytest.mark.parametrize(
    ("source", "sap", "equivalent"),
    [
        # 900 / 43.230 + 400 / 34.520 = 20.819 + 11.588; the 100 dumped are left out.
        ("North", "1400", "32.41"),
        # 500 / 28.713 = 17.414: boiled, sold and still here alike.
        ("South", "500", "17.41"),
        # 200 / 43.230 = 4.626.
        ("Bought sap", "200", "4.63"),
        # The sums of the figures shown above.
        ("All woodlots", "1900", "49.82"),
        ("Operation", "2100", "54.45"),
    ],
)
def test_syrup_equivalent_by_hand(season, source, sap, equivalent):
    row = by_name(review())[source]
    assert (row.sap, row.equivalent) == (Decimal(sap), Decimal(equivalent))


@pytest.mark.parametrize(
    ("source", "basis", "sap_per_tap", "syrup_per_tap", "allocated_per_tap"),
    [
        # 1400 / 500, 32.41 / 500, 28.62 / 500.
        ("North", "counted", "2.80", "0.065", "0.057"),
        # 500 / 300, 17.41 / 300, 8.41 / 300.
        ("South", "planned", "1.67", "0.058", "0.028"),
        # 1900 / 800, 49.82 / 800, 37.03 / 800.
        ("All woodlots", "counted and planned", "2.38", "0.062", "0.046"),
    ],
)
def test_per_tap_over_counted_taps_else_planned_and_says_which(
    season, source, basis, sap_per_tap, syrup_per_tap, allocated_per_tap
):
    row = by_name(review())[source]
    assert row.taps.basis == basis
    assert row.sap_per_tap == Decimal(sap_per_tap)
    assert row.equivalent_per_tap == Decimal(syrup_per_tap)
    assert row.allocated_per_tap == Decimal(allocated_per_tap)


def test_mean_sugar_weighs_by_mass(season):
    # Densities at 20 C (as apps.domain.sugar): 1005.99 at 2.0, 1007.93 at 2.5 kg/m3:
    # (1000 x 1005.99 x 2.0 + 400 x 1007.93 x 2.5) / (1000 x 1005.99 + 400 x 1007.93) = 2.14307
    assert by_name(review())["North"].mean_brix == pytest.approx(2.14307, abs=5e-5)


@pytest.mark.parametrize(
    ("source", "allocated"),
    [
        # Batch 1 by sugar, v rho x: north 900 x 2.0, bought 200 x 2.0, south 250 x 3.0 x 1.0039
        # = 1800 : 400 : 752.9 of 33.00 gal = 20.116, 4.470, 8.414; the hundredth left over goes
        # to the north's .58. Batch 2 is all the north's: 20.12 + 8.50.
        ("North", "28.62"),
        ("South", "8.41"),
        ("Bought sap", "4.47"),
        ("Operation", "41.50"),
    ],
)
def test_syrup_drawn_is_shared_by_sugar(season, source, allocated):
    assert by_name(review())[source].allocated == Decimal(allocated)


def test_shares_sum_to_a_hundred(season):
    # 28.62, 8.41 and 4.47 of 41.50: 68.964, 20.265, 10.771 %. Cut to tenths they make 99.8; the
    # two tenths left over go to the largest remainders, .071 and .065.
    result = review()
    shares = [row.share_percent for row in (*result.woodlots, result.bought)]
    assert shares == [Decimal("68.9"), Decimal("20.3"), Decimal("10.8")]


def test_recovery_compares_drawn_with_the_boiled_sap_alone(season):
    # Predicted: 900 / 43.230 + 200 / 43.230 + 250 / 28.713 + 300 / 34.520
    # = 20.819 + 4.626 + 8.707 + 8.691 = 42.843; drawn 41.5: neither what was sold nor what
    # was dumped nor what is still here comes into it.
    recovery = review().recovery
    assert recovery.predicted.litres == pytest.approx(gallons(42.843), rel=2e-5)
    assert recovery.share == pytest.approx(41.5 / 42.843, rel=2e-5)


def test_other_rule_stands_beside(season):
    # Mass balance at 66.0: 43.389 at 2.0, 34.644 at 2.5, 28.814 at 3.0 (computed from the
    # density polynomial): 1100 / 43.389 + 250 / 28.814 + 300 / 34.644 = 42.688.
    recovery = review().recovery
    assert recovery.other_share == pytest.approx(41.5 / 42.688, rel=3e-5)


@pytest.mark.parametrize(
    ("source", "fates"),
    [
        ("North", {"boiled": 1200, "sold": 0, "dumped": 100, "stock": 100}),
        ("South", {"boiled": 250, "sold": 50, "dumped": 0, "stock": 200}),
        ("Bought sap", {"boiled": 200, "sold": 0, "dumped": 0, "stock": 0}),
        ("Operation", {"boiled": 1650, "sold": 50, "dumped": 100, "stock": 300}),
    ],
)
def test_every_gallon_of_sap_is_somewhere(season, source, fates):
    row = by_name(review())[source]
    assert row.fates == fates
    assert sum(row.fates.values()) == row.sap


def test_dumped_and_sold_are_told_as_syrup_too(season):
    rows = by_name(review())
    assert rows["North"].equivalent_dumped == Decimal("2.31")  # 100 / 43.230
    assert rows["South"].equivalent_sold == Decimal("1.74")  # 50 / 28.713


def test_metric_operation_gets_litres_that_add_up(season):
    result = review("metric")
    assert result.unit == "L"
    # 33.00 and 8.50 gal are 124.92 and 32.18 L.
    assert result.drawn == Decimal("157.10")
    assert sum(row.allocated for row in result.woodlots) + result.bought.allocated == result.drawn


def test_syrup_of_another_density_is_restated_by_its_sugar(north):
    # 10 gal drawn at 66.9 hold the sugar of 10 x 66.9 rho(66.9) / (66.0 rho(66.0)) gal at 66.0;
    # the published weights in air, 11.073 and 11.027 lb/gal, give 10.179 (UVM, Sap Pricing).
    load = received(north, 430, 2.0, left=0)
    boil(1, 10.0, (load, 430), syrup_brix=66.9)
    recovery = review().recovery
    assert recovery.drawn_litres == pytest.approx(gallons(10.179), rel=1e-4)
    assert recovery.restated
    assert review().drawn == Decimal("10.00")


def test_density_without_a_published_rule_falls_back_to_mass_balance(season):
    recovery = review(syrup_brix=67.5).recovery
    assert recovery.share is not None
    assert recovery.other_share is None


def test_woodlot_without_known_taps_has_no_yield_per_tap(north):
    received(north, 100, 2.0, left=100)
    row = review().woodlots[0]
    assert row.taps.basis == "unknown"
    assert row.sap_per_tap is None
    assert review().all_woodlots.sap_per_tap is None


def test_lines_without_a_planned_count_are_said(north):
    woods.line(north, "1", planned_taps=200)
    woods.line(north, "2")
    assert review().woodlots[0].taps.lines_uncounted == 1


def test_batch_without_sap_is_told_apart_and_never_shared_out(season):
    boil(3, 5.0)
    result = review()
    assert (result.untraced, result.drawn) == (Decimal("5.00"), Decimal("46.50"))
    assert result.operation.allocated == Decimal("41.50")
    assert (result.recovery.batches, result.recovery.batches_without_sap) == (3, 1)
    assert result.recovery.share == pytest.approx(41.5 / 42.843, rel=2e-5)


def test_other_seasons_stay_out(season, north):
    sugarhouse.sap_in(north, season=2025, at=sugarhouse.AT - timedelta(days=365))
    assert review().operation.sap == 2100
    assert review(season=2024).is_empty


def test_books_that_do_not_balance_are_noticed(north):
    sugarhouse.sap_in(north, volume_litres=100.0, remaining_litres=60.0)
    assert review().astray_litres == pytest.approx(40.0)


def test_books_balance(season):
    assert review().astray_litres == pytest.approx(0.0, abs=1e-9)
