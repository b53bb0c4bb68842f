"""`make bench`: ratios against bare limits of the same run, the phone, skill and start dates."""

import os
import sys

import django

from tests.bench import arithmetic, lines, skill, start_dates, weather
from tests.bench.measure import HEAD


def main() -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "apps.config.settings")
    django.setup()
    # What drives the phone knows the app's rows, so it is not to be had before.
    from tests.bench import phone

    sys.stdout.write(f"{HEAD}\n")
    for module in (arithmetic, weather, lines):
        for row in module.rows():
            sys.stdout.write(f"{row.text()}\n")
            sys.stdout.flush()
    for printed in (phone.lines(), skill.lines(), start_dates.lines()):
        for line in printed:
            sys.stdout.write(f"{line}\n")
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
