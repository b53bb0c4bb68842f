"""`make bench`: ratios against bare limits of the same run, then the skill on open records."""

import sys

from tests.bench import arithmetic, skill, weather
from tests.bench.measure import HEAD


def main() -> int:
    sys.stdout.write(f"{HEAD}\n")
    for module in (arithmetic, weather):
        for row in module.rows():
            sys.stdout.write(f"{row.text()}\n")
            sys.stdout.flush()
    for line in skill.lines():
        sys.stdout.write(f"{line}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
