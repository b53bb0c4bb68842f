"""The invented farm that stands still: people, land, lines and tanks."""

import csv
import random
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

from django.conf import settings

from apps.domain import units
from apps.operation.actions import add_crew, change_setting
from apps.operation.models import CrewMember, Operation
from apps.operation.queries import constants
from apps.sugarhouse.models import Tank
from apps.woods.models import Landowner, Lease, Line, PumpHouse, TapCount, Woodlot

SEASONS = (2023, 2024, 2025, 2026)
# 5 F: they set spouts with bare fingers.
CHILL_LIMIT_C = -15.0
PASSWORD = "sugar-moon-demo"  # noqa: S105 - printed on the demo's own sign-in page
CREW = (("ina", "Ina", "owner"), ("marek", "Marek", "crew"), ("sol", "Sol", "crew"),
        ("wren", "Wren", "crew"))  # fmt: skip
# The farm lays laterals on its map in this woodlot only; elsewhere it knows its mainlines.
MAPPED = "Tamarack Hollow"


def rows(name: str) -> Iterator[dict[str, str]]:
    path = Path(settings.BASE_DIR) / "fixtures" / "demo" / f"{name}.csv"
    with path.open(newline="", encoding="utf-8") as file:
        yield from csv.DictReader(file)


def build(rng: random.Random) -> None:
    """Write the whole farm into an empty database."""
    _operation()
    for username, first_name, role in CREW:
        if not CrewMember.objects.filter(username=username).exists():
            add_crew(username=username, first_name=first_name, role=role, password=PASSWORD)
    for row in rows("woodlots"):
        _lines(rng, _woodlot(row), taps=int(row["taps"]), per_mainline=int(row["mainline_taps"]))
    _leases()
    _tanks()


def own_figures(now: datetime) -> None:
    """What is this farm's own to say, unless somebody at the demo has set it: what syrup fetches,
    what a day costs, and in what wind chill its crew of four stays home.
    """
    owner = CrewMember.objects.get(username=CREW[0][0])
    litre = float(units.litres_from_us_gallons(1))
    theirs = {
        "season.syrup_price": 38 / litre,
        "season.day_cost": 420.0,
        "tapping.wind_chill_limit_c": CHILL_LIMIT_C,
    }
    for key, value in theirs.items():
        if key not in constants().changed:
            change_setting(key=key, value=value, now=now, by=owner)


def _operation() -> None:
    Operation.objects.update_or_create(
        pk=1,
        defaults={
            "name": "Tamarack Hollow Sugaring",
            "place": "Pell Corners, New York",
            "jurisdiction": "US-NY",
        },
    )


def _woodlot(row: dict[str, str]) -> Woodlot:
    owner = None
    if row["landowner"]:
        owner = Landowner.objects.create(name=row["landowner"], address="Pell Corners, New York")
    elevation_m = float(units.metres_from_feet(float(row["elevation_ft"])))
    woodlot = Woodlot.objects.create(
        name=row["name"],
        landowner=owner,
        latitude=float(row["latitude"]),
        longitude=float(row["longitude"]),
        elevation_m=elevation_m,
        aspect=row["aspect"],
        area_ha=float(units.hectares_from_acres(float(row["acres"]))),
        maple_share=float(row["maple_share"]),
        access=row["access"],
    )
    PumpHouse.objects.create(
        woodlot=woodlot, name=f"{row['name']} pump", elevation_m=elevation_m - 8
    )
    return woodlot


def _leases() -> None:
    for row in rows("leases"):
        woodlot = Woodlot.objects.select_related("landowner").get(name=row["woodlot"])
        assert woodlot.landowner is not None  # noqa: S101 - the fixture leases leased land only
        Lease.objects.create(
            woodlot=woodlot,
            landowner=woodlot.landowner,
            rule=row["rule"],
            rate_per_tap=_decimal(row["rate_per_tap"]),
            index_then=_decimal(row["index_then"]),
            gross_share=_decimal(row["gross_share"]),
            starts_on=date.fromisoformat(row["starts_on"]),
            ends_on=date.fromisoformat(row["ends_on"]),
        )


def _decimal(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _tanks() -> None:
    for row in rows("tanks"):
        sides = {
            f"{side}_mm": float(units.mm_from_inches(float(row[f"{side}_in"])))
            for side in ("diameter", "length", "width", "height")
            if row[f"{side}_in"]
        }
        woodlot = Woodlot.objects.get(name=row["woodlot"]) if row["woodlot"] else None
        Tank.objects.create(name=row["name"], woodlot=woodlot, shape=row["shape"], **sides)


def _lines(rng: random.Random, woodlot: Woodlot, *, taps: int, per_mainline: int) -> None:
    """A conductor to the pump, mainlines on it and, where mapped, laterals on those."""
    house = woodlot.pump_houses.get()
    conductor = Line.objects.create(
        woodlot=woodlot, pump_house=house, label="W", kind="wet", length_m=450, fall_m=11,
        diameter_mm=38.1, installed_season=2014,
    )  # fmt: skip
    _plan(conductor, 0, rng)
    for number, count in enumerate(split(rng, taps, per_mainline), start=1):
        mainline = Line.objects.create(
            woodlot=woodlot,
            pump_house=house,
            parent=conductor,
            label=str(number),
            kind="main",
            diameter_mm=25.4 if count > 70 else 19.05,
            length_m=round(rng.uniform(120, 300)),
            fall_m=round(rng.uniform(4, 14), 1),
            walk_minutes=round(10 + 1.5 * number + rng.uniform(0, 8)),
            installed_season=rng.choice((2012, 2014, 2016, 2019)),
            drops_installed_season=rng.choice((2021, 2022, 2023, 2024, 2025)),
        )
        if woodlot.name == MAPPED:
            _plan(mainline, 0, rng)
            _laterals(rng, mainline, count)
        else:
            _plan(mainline, count, rng)


def _laterals(rng: random.Random, mainline: Line, taps: int) -> None:
    for number, count in enumerate(split(rng, taps, 8), start=1):
        lateral = Line.objects.create(
            woodlot=mainline.woodlot,
            pump_house=mainline.pump_house,
            parent=mainline,
            label=f"{mainline.label}-{number}",
            kind="lateral",
            diameter_mm=7.9375,
            length_m=round(rng.uniform(15, 45)),
            walk_minutes=mainline.walk_minutes,
            installed_season=mainline.installed_season,
            drops_installed_season=mainline.drops_installed_season,
        )
        _plan(lateral, count, rng)


def split(rng: random.Random, total: int, about: int) -> list[int]:
    """Uneven parts of about the given size whose sum is the total."""
    # Even first and then a little moved about, so that the sum needs no mending.
    parts = max(1, round(total / about))
    sizes = [total // parts + (1 if place < total % parts else 0) for place in range(parts)]
    for _ in range(parts):
        here, there = rng.randrange(parts), rng.randrange(parts)
        moved = rng.randint(0, sizes[here] // 6)
        sizes[here] -= moved
        sizes[there] += moved
    return sizes


def _plan(line: Line, taps: int, rng: random.Random) -> None:
    """A few trees are lost or gained from one season to the next; 2026 is the round figure."""
    TapCount.objects.bulk_create(
        TapCount(
            line=line,
            season=season,
            planned_taps=taps if season == SEASONS[-1] else max(0, taps - rng.choice((0, 0, 1))),
        )
        for season in SEASONS
    )
