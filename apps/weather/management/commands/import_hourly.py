from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import IntegrityError, transaction

from apps.operation import clock
from apps.weather import actions_readings as actions
from apps.weather.payload import HourlyRecord, NotHours, decode, read_hourly
from apps.woods.actions import WoodsRefused

MOST_TOLD = 20


def place(text: str) -> actions.Place:
    try:
        latitude, longitude, elevation_m = (float(word) for word in text.split(","))
    except ValueError as error:
        raise ArgumentTypeError("write LATITUDE,LONGITUDE,ELEVATION_M") from error
    return actions.Place(latitude, longitude, elevation_m)


class Command(BaseCommand):
    help = "Store a record of hourly temperatures (time_utc,temp_c) as those of a woodlot."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("woodlot", help="the woodlot's name")
        parser.add_argument("file", type=Path, help="CSV file with the columns time_utc,temp_c")
        parser.add_argument(
            "--new-woodlot",
            type=place,
            metavar="LAT,LON,ELEVATION_M",
            help="make the woodlot here first, if it is not there yet",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        now = clock.now()
        try:
            record = read_hourly(decode(options["file"].read_bytes()), now)
            # The woodlot and its record come together or not at all.
            with transaction.atomic():
                woodlot = actions.woodlot_for_record(
                    name=options["woodlot"], place=options["new_woodlot"]
                )
                plan = actions.import_hours(woodlot=woodlot, record=record, now=now)
        except OSError as error:
            raise CommandError(f"{options['file']} cannot be read: {error.strerror}.") from error
        except IntegrityError as error:
            raise CommandError(f"There can be no such woodlot: {error}.") from error
        except (NotHours, actions.RecordRefused, WoodsRefused) as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"{woodlot}: {record.valid_hours} hours with a value, {record.missing_hours} missing; "
            f"{plan.added} added, {plan.changed} changed, {plan.emptied} emptied, "
            f"{plan.unchanged} as they were."
        )
        for line in _findings(record):
            self.stdout.write(line)


def _findings(record: HourlyRecord) -> list[str]:
    """What to look at, the long lists cut short and said to be."""
    lines = []
    if record.repeated:
        lines.append(f"{record.repeated} rows repeat an hour.")
    if record.out_of_order:
        lines.append(f"{record.out_of_order} rows stood out of order of time.")
    lines += _first(
        "set aside, never reckoned with",
        [
            f"row {v.row}, {v.at:%Y-%m-%dT%H:%MZ}: {v.value_c:g} C, {v.reason}"
            for v in record.set_aside
        ],
    )
    lines += _first("not read", [f"row {fault.row}: {fault.reason}" for fault in record.faults])
    return lines


def _first(what: str, told: list[str]) -> list[str]:
    if not told:
        return []
    more = [f"  and {len(told) - MOST_TOLD} more"] if len(told) > MOST_TOLD else []
    return [f"{len(told)} {what}:", *(f"  {line}" for line in told[:MOST_TOLD]), *more]
