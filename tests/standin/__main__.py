"""Run the stand-in by hand: python -m tests.standin --port 8765 [--today 2026-03-16]."""

import argparse
import os
import signal
import sys
import time
from contextlib import suppress
from datetime import date

from tests.standin import StandIn, faults

NAMES = sorted([*faults.REPLY_FAULTS, *faults.WIRE_FAULTS])


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.standin", description=__doc__)
    parser.add_argument("--port", type=int, required=True, help="0 picks a free one")
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--today", type=date.fromisoformat, help="the day the service thinks it is")
    parser.add_argument("--any-day", action="store_true", help="think it is the day asked about")
    parser.add_argument("--fault", choices=NAMES, default="", help="go wrong in this way, always")
    parser.add_argument("--with-parent", action="store_true", help="end when the caller has ended")
    args = parser.parse_args()
    parent = os.getppid()
    # A plain kill ends it as Ctrl-C does, so that the port is let go.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with StandIn(
        port=args.port,
        host=args.host,
        today=args.today,
        any_day=args.any_day,
        fault=args.fault,
    ) as standin:
        sys.stdout.write(f"{standin.url}\n")
        sys.stdout.flush()
        with suppress(KeyboardInterrupt):
            # A caller that was killed cannot tell us, but then another process is our parent.
            while not args.with_parent or os.getppid() == parent:
                time.sleep(0.5)


if __name__ == "__main__":
    main()
