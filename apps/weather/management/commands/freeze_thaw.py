import json
from argparse import ArgumentParser
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError

from apps.domain.errors import DomainError
from apps.domain.freeze_thaw import Limits, MonthCount
from apps.operation.queries import constants, current_operation
from apps.weather import actions_readings as actions
from apps.weather.queries.months import RecordedMonths, recorded_months, standard_time

HEADS = ("month", "complete days", "days", "cycles", "longest thaw, h")


class Command(BaseCommand):
    help = "Count freeze-thaw days and cycles by month from the hours recorded in a woodlot."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("woodlot", help="the woodlot's name")
        for name, words in (("--from", "first"), ("--to", "last")):
            parser.add_argument(
                name,
                dest=words,
                type=date.fromisoformat,
                required=True,
                metavar="DATE",
                help=f"{words} local day, as 2015-03-01",
            )
        for name in ("freeze", "thaw"):
            parser.add_argument(
                f"--{name}-c", type=float, metavar="C", help=f"{name} limit; else the setting"
            )
        parser.add_argument(
            "--standard-time",
            action="store_true",
            help="days of the zone's fixed standard time, without daylight saving",
        )
        parser.add_argument("--json", action="store_true", help="a JSON list, one object a month")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["first"] > options["last"]:
            raise CommandError("--from must not be after --to.")
        try:
            found = _found(options)
        except (DomainError, actions.RecordRefused) as refusal:
            raise CommandError(str(refusal)) from refusal
        if found.record is None:
            raise CommandError(
                f"No hours are recorded for {options['woodlot']}: import them first."
            )
        rows = [_row(month) for month in found.months]
        if options["json"]:
            self.stdout.write(json.dumps(rows, indent=2))
        else:
            self._table(rows, found)

    def _table(self, rows: list[dict[str, Any]], found: RecordedMonths) -> None:
        self.stdout.write("  ".join(HEADS))
        for row in rows:
            cells = zip(row.values(), HEADS, strict=True)
            self.stdout.write("  ".join(str(cell).rjust(len(head)) for cell, head in cells))
        assert found.record is not None  # noqa: S101 - handle() has seen to it
        self.stdout.write(f"From {found.record.source}.")


def _found(options: dict[str, Any]) -> RecordedMonths:
    in_use = constants()
    limits = Limits(
        *(
            in_use.number(f"weather.{name}") if options[name] is None else options[name]
            for name in ("freeze_c", "thaw_c")
        )
    )
    zone = ZoneInfo(current_operation().time_zone)
    tz = standard_time(zone, options["first"].year) if options["standard_time"] else zone
    woodlot = actions.woodlot_for_record(name=options["woodlot"])
    return recorded_months(woodlot, options["first"], options["last"], tz, limits)


def _row(month: MonthCount) -> dict[str, Any]:
    return {
        "month": f"{month.year:04d}-{month.month:02d}",
        "complete_days": month.complete_days,
        "days": len(month.limit_dates),
        "cycles": month.cycles,
        "longest_thaw_hours": month.longest_thaw_hours,
    }
