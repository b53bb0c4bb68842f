"""`make bench`: ratios against bare limits of the same run, skill and start dates replayed."""

import sys

from tests.bench import arithmetic, skill, start_dates, weather
from tests.bench.measure import HEAD


def main() -> int:
    sys.stdout.write(f"{HEAD}\n")
    for module in (arithmetic, weather):
        for row in module.rows():
            sys.stdout.write(f"{row.text()}\n")
            sys.stdout.flush()
    for printed in (skill.lines(), start_dates.lines()):
        for line in printed:
            sys.stdout.write(f"{line}\n")
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
