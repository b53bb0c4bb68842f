"""`make bench`: one table of ratios, each against its bare limit measured in the same run."""

import sys

from tests.bench import arithmetic
from tests.bench.measure import HEAD


def main() -> int:
    sys.stdout.write(f"{HEAD}\n")
    for row in arithmetic.rows():
        sys.stdout.write(f"{row.text()}\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
