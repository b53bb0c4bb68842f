"""The demo's books balance: taps, sap, sugar and syrup summed at every level."""

from collections import defaultdict
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.db.models import Count, F, Sum

from apps.demo.clock import STOPS
from apps.demo.generator import farm
from apps.demo.generator.build import rebuild
from apps.domain.sugar import sugar_mass_kg
from apps.leaks.models import GaugeReading, Leak, LeakCheck
from apps.operation.models import CrewMember
from apps.sugarhouse.models import Batch, BatchSap, Dip, SapIn, SapOut
from apps.tapping.models import FirstRun, TapTally
from apps.tapping.queries import taps_set_by_line, taps_set_by_woodlot
from apps.woods.models import Line, TapCount, Woodlot
from apps.woods.queries import planned_taps_by_line, planned_taps_by_woodlot

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/New_York")
# Sums of a few hundred floats of thousands of litres: their rounding, and no reading's.
CLOSE = 1e-6


@pytest.fixture(scope="module", params=["january", "march", "may"])
def until(request, django_db_setup, django_db_blocker):
    """The demo at one of its stops, written once for all audits of this module."""
    with django_db_blocker.unblock(), transaction.atomic():
        rebuild(STOPS[request.param])
        yield STOPS[request.param]
        transaction.set_rollback(True)


def test_taps_planned_sum_at_every_level(until):
    by_woodlot = planned_taps_by_woodlot(2026)
    by_line = planned_taps_by_line(2026)
    for row in farm.rows("woodlots"):
        woodlot = Woodlot.objects.get(name=row["name"])
        own = TapCount.objects.filter(season=2026, line__woodlot=woodlot)
        lines = [by_line[pk] for pk in woodlot.lines.values_list("pk", flat=True) if pk in by_line]
        assert by_woodlot[woodlot.pk].taps == int(row["taps"]) == sum(lines)
        assert own.aggregate(taps=Sum("planned_taps"))["taps"] == int(row["taps"])
    assert sum(total.taps for total in by_woodlot.values()) == 8600
    assert all(total.complete for total in by_woodlot.values())


@pytest.mark.parametrize("season", farm.SEASONS)
def test_taps_set_sum_at_every_level(until, season):
    tallies = TapTally.objects.standing().of_season(season)
    total = tallies.aggregate(taps=Sum("taps_set"))["taps"] or 0
    woodlot_of = dict(Line.objects.values_list("pk", "woodlot_id"))
    by_woodlot = defaultdict(int)
    for line, taps in taps_set_by_line(season).items():
        by_woodlot[woodlot_of[line]] += taps
    assert dict(by_woodlot) == taps_set_by_woodlot(season)
    assert sum(by_woodlot.values()) == total


def test_every_litre_of_each_load_is_somewhere(until):
    rows = SapIn.objects.all()
    boiled = dict(BatchSap.objects.values_list("sap_in").annotate(Sum("volume_litres")))
    out = dict(SapOut.objects.values_list("sap_in").annotate(Sum("volume_litres")))
    assert rows.exists()
    for row in rows:
        gone = boiled.get(row.pk, 0) + out.get(row.pk, 0)
        assert gone + row.remaining_litres == pytest.approx(row.volume_litres, abs=CLOSE)


@pytest.mark.parametrize("season", farm.SEASONS[:3])
def test_sugar_in_equals_sugar_boiled_sold_and_dumped(until, season):
    def kilograms(volumes):
        return sum(sugar_mass_kg(volume, brix) for volume, brix in volumes)

    sap = SapIn.objects.of_season(season)
    came = kilograms(sap.values_list("volume_litres", "brix"))
    boiled = kilograms(
        BatchSap.objects.filter(batch__season=season).values_list("volume_litres", "sap_in__brix")
    )
    gone = kilograms(
        SapOut.objects.filter(sap_in__season=season).values_list("volume_litres", "sap_in__brix")
    )
    assert came > 1000
    assert boiled + gone == pytest.approx(came, rel=1e-9)


@pytest.mark.parametrize("season", farm.SEASONS[:3])
def test_syrup_never_holds_more_sugar_than_its_sap(until, season):
    for batch in Batch.objects.filter(season=season).prefetch_related("sap__sap_in"):
        sap = sum(sugar_mass_kg(part.volume_litres, part.sap_in.brix) for part in batch.sap.all())
        drawn = sugar_mass_kg(batch.syrup_litres, batch.syrup_brix)
        assert 0.88 * sap < drawn < sap


def test_nothing_is_dated_after_the_demos_day(until):
    assert not LeakCheck.objects.filter(observed_at__gt=until).exists()
    assert not GaugeReading.objects.filter(read_at__gt=until).exists()
    assert not SapIn.objects.filter(at__gt=until).exists()
    assert not Batch.objects.filter(boiled_at__gt=until).exists()
    assert not Dip.objects.filter(at__gt=until).exists()
    assert not TapTally.objects.filter(tallied_on__gt=until.date()).exists()
    assert not FirstRun.objects.filter(date__gt=until.date()).exists()


def test_every_way_for_sap_to_come_in_is_shown(until):
    methods = set(SapIn.objects.values_list("method", flat=True))
    assert methods == set(SapIn.Method.values)
    assert SapIn.objects.filter(woodlot=None).exclude(seller="").exists()
    assert set(SapOut.objects.values_list("kind", flat=True)) == set(SapOut.Kind.values)


def test_leaks_of_past_seasons_were_mended(until):
    past = Leak.objects.filter(opened_at__year__lt=2026)
    assert past.exists()
    assert not past.filter(closed_by=None).exists()


def test_each_day_has_the_work_it_is_there_for(until):
    tapped = TapTally.objects.of_season(2026).exists()
    leaks = Leak.objects.still_open().exists()
    boiled = Batch.objects.filter(season=2026).count()
    if until == STOPS["january"]:
        assert not tapped
        assert boiled == 0
    else:
        assert tapped
        assert leaks
        assert boiled >= 8


def test_tanks_were_dipped_thrice_a_day_for_the_last_fortnight_of_sap(until):
    dips = Dip.objects.all()
    # No sap runs in January, and in May the last of it was weeks ago.
    assert dips.exists() is (until == STOPS["march"])
    assert not dips.filter(at__lt=until - timedelta(days=15)).exists()
    assert {row.at.astimezone(ZONE).hour for row in dips} <= {6, 13, 18}
    a_day = dips.values("tank", "at__date").annotate(count=Count("pk"))
    assert all(row["count"] <= 3 for row in a_day)


def test_the_same_seed_tells_the_same_farm(until):
    def digest():
        return (
            list(SapIn.objects.order_by("uuid").values_list("uuid", "volume_litres", "brix")),
            list(LeakCheck.objects.order_by("uuid").values_list("uuid", "state", F("line__label"))),
        )

    before = digest()
    visitors = CrewMember.objects.filter(username="ina")
    visitors.update(password="changed by a visitor")
    rebuild(until)
    assert digest() == before
    # People are no records: who signed in stays signed in.
    assert visitors.get().password == "changed by a visitor"
