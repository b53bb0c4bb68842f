"""The invented sugarhouse: sap in by every way, boiled at night, a little lost."""

import math
import random
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from apps.demo.generator.woods_work import Days, at, new_uuid
from apps.demo.generator.year import Place, sugar_brix
from apps.domain import units
from apps.domain.sugar import sugar_mass_kg
from apps.operation.models import CrewMember
from apps.sugarhouse import actions
from apps.sugarhouse.actions import Measurement
from apps.sugarhouse.models import SapIn, Tank
from apps.tapping.models import TapTally
from apps.woods.models import Woodlot

LITRES_PER_DUMP = float(units.litres_from_us_gallons(5))
TRUCK_LITRES = float(units.litres_from_us_gallons(1200))
BOIL_FROM_LITRES = float(units.litres_from_us_gallons(900))
SELLER = "Kettle Road sap"


@dataclass
class Sugarhouse:
    """What the sugarhouse knows while a season goes on."""

    rng: random.Random
    season: int
    days: Days
    crew: list[CrewMember]
    until: datetime
    meter_litres: float = 41_250.0
    dump_count: float = 880.0
    vacuum: dict[str, float] = field(default_factory=dict)

    @property
    def pans_drained_on(self) -> date:
        """The last two days of sap come when the pans are drained already."""
        home = self.days["Home Hill"].values()
        return [day.day for day in home if day.litres_per_tap > 0][-2]

    def share_of_best(self, name: str) -> float:
        """How well a woodlot's lines held this season."""
        return self.vacuum.setdefault(name, self.rng.uniform(0.78, 0.98))


def run(house: Sugarhouse) -> None:
    """Day by day: gather in the afternoon, boil in the evening when there is enough."""
    woodlots = list(Woodlot.objects.order_by("pk"))
    tanks = {tank.woodlot_id: tank for tank in Tank.objects.exclude(woodlot=None)}
    for day in sorted(house.days["Home Hill"]):
        for woodlot in woodlots:
            _gather(house, woodlot, tanks.get(woodlot.pk), day)
        if (day.month, day.day) == (3, 25):
            _buy(house, day)
        _boil(house, day)
    _sell_and_lose(house)


def _taps_before(house: Sugarhouse, woodlot: Woodlot, day: date) -> int:
    tallies = TapTally.objects.standing().of_season(house.season)
    rows = tallies.filter(line__woodlot=woodlot, tallied_on__lt=day)
    return sum(rows.values_list("taps_set", flat=True))


def _gather(house: Sugarhouse, woodlot: Woodlot, tank: Tank | None, day: date) -> None:
    moment = at(day, 17, house.rng.randrange(60))
    flow = house.days[woodlot.name][day].litres_per_tap
    if flow == 0 or moment > house.until:
        return
    taps = _taps_before(house, woodlot, day)
    litres = taps * flow * house.share_of_best(woodlot.name) * house.rng.uniform(0.93, 1.05)
    place = Place(woodlot.name, woodlot.latitude, woodlot.longitude, woodlot.elevation_m)
    brix = sugar_brix(place, day, house.rng.uniform(-0.15, 0.15))
    # Later loads of a day come in one after the other, as one truck drives them.
    for number, measured in enumerate(_measured(house, tank, litres)):
        actions.record_sap_in(
            uuid=new_uuid(house.rng),
            season=house.season,
            at=moment + timedelta(minutes=50 * number),
            measured=measured,
            brix=brix,
            crew=house.rng.choice(house.crew),
            woodlot=woodlot,
        )


def _measured(house: Sugarhouse, tank: Tank | None, litres: float) -> list[Measurement]:
    # Nobody starts a pump for ten gallons.
    if litres < 40:
        return []
    if tank is None:  # piped straight in, past a meter
        start, house.meter_litres = house.meter_litres, house.meter_litres + round(litres)
        return [Measurement("meter", start=start, end=house.meter_litres)]
    if tank.shape == Tank.Shape.HORIZONTAL:
        start, counts = house.dump_count, max(1, round(litres / LITRES_PER_DUMP))
        house.dump_count += counts
        return [
            Measurement(
                "dump_counter", start=start, end=house.dump_count,
                litres_per_count=LITRES_PER_DUMP,
            )
        ]  # fmt: skip
    if tank.shape == Tank.Shape.OVAL:
        return _rises(tank, litres)
    return _loads(tank, litres)


def _rises(tank: Tank, litres: float) -> list[Measurement]:
    """A tank emptied to its last inches and filled again, read to a quarter inch."""
    measure = tank.measure()
    start_mm = float(units.mm_from_inches(2))
    most = 0.9 * measure.full_litres - measure.volume_litres(start_mm)
    out = []
    while litres > 40:
        part = min(litres, most)
        depth_mm = measure.depth_mm(measure.volume_litres(start_mm) + part)
        end_mm = float(units.mm_from_inches(round(float(units.inches_from_mm(depth_mm)) * 4) / 4))
        out.append(Measurement("tank_rise", tank=tank, start=start_mm, end=end_mm))
        litres -= part
    return out


def _loads(tank: Tank, litres: float) -> list[Measurement]:
    """Truck loads, written down in whole gallons."""
    out = []
    while litres > 40:
        part = min(litres, TRUCK_LITRES)
        gallons = round(float(units.us_gallons_from_litres(part)))
        volume = float(units.litres_from_us_gallons(gallons))
        out.append(Measurement("load", tank=tank, volume_litres=volume))
        litres -= part
    return out


def _buy(house: Sugarhouse, day: date) -> None:
    if at(day, 16) <= house.until:
        actions.record_sap_in(
            uuid=new_uuid(house.rng),
            season=house.season,
            at=at(day, 16),
            measured=Measurement("load", volume_litres=TRUCK_LITRES * 0.75),
            brix=1.9,
            crew=house.crew[0],
            seller=SELLER,
        )


def _boil(house: Sugarhouse, day: date) -> None:
    moment = at(day, 21, 30)
    stock = list(SapIn.objects.of_season(house.season).in_stock().until(moment).oldest_first())
    litres = sum(row.remaining_litres for row in stock)
    # Nothing is dated after the demo's day, and drained pans take no more sap.
    if moment > house.until or not stock or day >= house.pans_drained_on:
        return
    # Sap a day and a half old is boiled even when it is little: it spoils.
    old = moment - stock[0].at > timedelta(hours=30)
    if litres < BOIL_FROM_LITRES and not (old and litres > BOIL_FROM_LITRES / 3):
        return
    # Summed as the books hold it, so that no crumb is left behind.
    sap_litres = sum(row.remaining_litres for row in stock)
    sugar_kg = sum(
        sugar_mass_kg(row.remaining_litres, row.brix) for row in stock if row.brix is not None
    )
    syrup_brix = house.rng.choice((66.0, 66.2, 66.5, 66.9))
    # A little of the sugar always stays behind, in the sand, the filter and the pans.
    drawn = sugar_kg * house.rng.uniform(0.92, 0.985) / sugar_mass_kg(1.0, syrup_brix)
    gallons = math.floor(float(units.us_gallons_from_litres(drawn)) * 4) / 4
    actions.record_batch(
        uuid=new_uuid(house.rng),
        season=house.season,
        boiled_at=moment,
        # Drawn off into cans that are read to a quarter gallon.
        syrup_litres=float(units.litres_from_us_gallons(max(0.25, gallons))),
        syrup_brix=syrup_brix,
        crew=house.rng.choice(house.crew),
        sap_litres=sap_litres,
    )


def _sell_and_lose(house: Sugarhouse) -> None:
    """What came after the pans were drained: the first load sold, the rest dumped."""
    # So that sold and dumped sap is in the books of each season.
    leftovers = SapIn.objects.of_season(house.season).in_stock().oldest_first()
    end = at(date(house.season, 4, 30), 12)
    if end > house.until:
        return
    for number, row in enumerate(leftovers):
        kind, reason = ("sold", SELLER) if number == 0 else ("dumped", "Stood warm, end of season")
        actions.record_sap_out(
            uuid=new_uuid(house.rng),
            sap_in=row,
            kind=kind,
            at=end,
            volume_litres=row.remaining_litres,
            reason=reason,
        )


def dip_tanks(house: Sugarhouse) -> None:
    """The last fortnight's dips of this season, three a day while sap runs."""
    for tank in Tank.objects.exclude(woodlot=None).select_related("woodlot"):
        assert tank.woodlot is not None  # noqa: S101 - excluded just above
        for day in house.days[tank.woodlot.name].values():
            if at(day.day, 0) > house.until - timedelta(days=14) and day.litres_per_tap > 0:
                _dip_day(house, tank, day.day)


def _dip_day(house: Sugarhouse, tank: Tank, day: date) -> None:
    measure = tank.measure()
    level = house.rng.uniform(0.06, 0.2)
    for hour, rise in ((6, 0.0), (13, 0.25), (18, 0.3)):
        level = min(0.95, level + rise * house.rng.uniform(0.6, 1.2))
        depth_inches = float(units.inches_from_mm(measure.depth_mm(level * measure.full_litres)))
        moment = at(day, hour, 5)
        if moment <= house.until:
            actions.record_dip(
                uuid=new_uuid(house.rng),
                tank=tank,
                at=moment,
                depth_mm=float(units.mm_from_inches(round(depth_inches * 4) / 4)),
                crew=house.rng.choice(house.crew),
            )
