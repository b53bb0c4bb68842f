"""Leases, what to renew, and where a container came from."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np

from apps.domain import leases, replacement, trace
from apps.operation.numbers.entry import Area, Basis, Worked

LEASES = Area("leases", "Leases")
REPLACEMENT = Area("replacement", "What to renew")
TRACE = Area("trace", "Where it came from")
INDEX = "US Bureau of Labor Statistics, Using the Consumer Price Index for Escalation (1989)"
KNAPSACK = "Martello and Toth, Knapsack Problems (1990), ch. 2"
CLOSURE = (
    "one step back, one step forward: Codex Alimentarius CAC/GL 60-2006, from memory; "
    "common practice, no formula"
)


@LEASES.explain(
    "to_cents",
    "To the cent",
    formula="rounded half-up, line by line",
    units="the operation's money",
    validity="any amount",
    source="common practice, no source; so that printed lines add up",
    basis=Basis.PRACTICE,
)
def cents() -> Worked:
    return Worked({"amount": "12.345"}, {"rounded": f"{leases.to_cents(Decimal('12.345'))}"})


@LEASES.explain(
    "statement IndexedPerTap.rate",
    "A season's rent",
    formula=(
        "taps × rate; an indexed rate = rate then × index now / index then; or a share of gross; "
        "lifted to a floor, cut at a cap, less syrup given"
    ),
    units="the operation's money, to the cent",
    validity="the lease's own terms and no more; not legal or tax advice",
    source=(
        f"{INDEX}; UVM Extension, Maple Rental Rate page; order of floor and cap: common "
        "practice, no source"
    ),
    basis=Basis.PUBLISHED,
)
def rent() -> Worked:
    rule = leases.IndexedPerTap(Decimal("1.00"), Decimal("136.0"), Decimal("142.6"))
    lease = leases.Lease(rule, floor=leases.Floor(Decimal("0.90"), 1600))
    found = leases.statement(lease, leases.SeasonFacts(taps=leases.TapCount(1350)))
    rows = {line.label: line.arithmetic for line in found.lines}
    return Worked(
        {
            "rate": "1.00 a tap at an index of 136.0, now 142.6",
            "taps counted": "1,350",
            "floor": "90 % of 1,600 taps",
        },
        {**rows, "due": f"{found.due:.2f}"},
    )


def _job(key: str, sap_litres: float, parts: str, minutes: int) -> replacement.Job:
    return replacement.Job(key, sap_litres, 43.23, Decimal(parts), minutes)


TERMS = replacement.Terms(Decimal("10.00"), Decimal("20.00"))
JOBS = (
    _job("A", 3000.0, "200.00", 300),
    _job("B", 2000.0, "150.00", 240),
    _job("C", 2500.0, "300.00", 120),
)
JOB_WORDS = {
    "A": "3,000 L of sap more, 200.00 of parts, 300 minutes",
    "B": "2,000 L, 150.00, 240 minutes",
    "C": "2,500 L, 300.00, 120 minutes",
    "terms": "43.23 of sap to one of syrup, syrup at 10.00 a litre, work at 20.00 an hour",
}


@REPLACEMENT.explain(
    "worth",
    "What a job nets over its life",
    formula=(
        "net = extra sap × (1 + 2/3 + 1/3) / S × price × share kept − parts − minutes × wage / 60"
    ),
    units="litres of sap and syrup, money, minutes",
    validity="no interest; jobs neither help nor hinder each other",
    source=(
        "gain declining by thirds over three years: common practice, no source; three years for "
        "drops: Perkins, Maple News (story 57)"
    ),
    basis=Basis.PRACTICE,
)
def worth() -> Worked:
    found = replacement.worth(JOBS[0], TERMS)
    return Worked(
        {"job A": JOB_WORDS["A"], "terms": JOB_WORDS["terms"]},
        {
            "brings": f"{found.value:.2f}",
            "costs": f"{found.cost:.2f}",
            "nets": f"{found.net:.2f}",
        },
    )


@REPLACEMENT.explain(
    "choose",
    "Which jobs to do within money and time",
    formula="of all sets of whole jobs within both limits, the one that nets most",
    units="money, minutes",
    validity="exact up to 20 jobs; beyond, a good set and a bound that no set can beat",
    source=KNAPSACK,
    basis=Basis.PUBLISHED,
)
def chosen() -> Worked:
    found = replacement.choose(JOBS, TERMS, Decimal("700.00"), 480)
    left = "; ".join(f"{job.job.key}: {reason}" for job, reason in found.left)
    return Worked(
        {**JOB_WORDS, "limits": "700.00 and 480 minutes"},
        {
            "do": ", ".join(job.job.key for job in found.chosen) or "none",
            "nets": f"{found.net:.2f}",
            "left": left,
        },
    )


@REPLACEMENT.explain(
    "best_set",
    "The same in bare numbers",
    formula="every subset weighed: highest net, then cheapest, then quickest",
    units="whole cents and minutes",
    validity="exact up to 20 items",
    source=KNAPSACK,
    basis=Basis.PUBLISHED,
)
def best() -> Worked:
    net, cost, time = (np.array(row) for row in ([60, 100, 120], [10, 20, 30], [1, 1, 1]))
    found = replacement.best_set(net, cost, time, 50, 3)
    return Worked(
        {"items": "60 for 10, 100 for 20, 120 for 30", "limit": "50"},
        {
            "taken": ", ".join(f"item {at + 1}" for at in found.positions),
            "net": f"{found.net}",
        },
    )


def _story() -> tuple[list[trace.Event], trace.Place, trace.Place]:
    start = datetime(2026, 3, 15, 12, tzinfo=UTC)
    load, tank, batch, drum = (
        trace.Place(kind, key)
        for kind, key in (
            (trace.Kind.SAP, "1"),
            (trace.Kind.TANK, "south"),
            (trace.Kind.BATCH, "7"),
            (trace.Kind.CONTAINER, "drum 3"),
        )
    )
    steps = ((load, tank), (tank, batch), (batch, drum))
    events: list[trace.Event] = [
        trace.Moved(start + timedelta(hours=hour), source, target)
        for hour, (source, target) in enumerate(steps)
    ]
    return events, load, drum


def _reached(found: trace.Trace) -> str:
    keys = [f"{place}" for kind in trace.Kind for place in found.of_kind(kind)]
    return ", ".join(keys)


@TRACE.explain(
    "trace_back Trace.of_kind",
    "What may be in a container",
    formula="from the last movement to the first: what flowed into a place counted is counted too",
    units="none: which, not how much",
    validity="errs on the side of too much; contents mix fully, pans carry over",
    source=CLOSURE,
    basis=Basis.PRACTICE,
)
def backwards() -> Worked:
    events, _, drum = _story()
    return Worked(
        {"movements": "load 1 to the south tank, the tank to batch 7, the batch to drum 3"},
        {"drum 3 may hold": _reached(trace.trace_back(events, drum))},
    )


@TRACE.explain(
    "trace_forward",
    "Where a load may have gone",
    formula="from the first movement to the last: what a place counted flowed into is counted too",
    units="none: which, not how much",
    validity="errs on the side of too much; contents mix fully, pans carry over",
    source=CLOSURE,
    basis=Basis.PRACTICE,
)
def forwards() -> Worked:
    events, load, _ = _story()
    return Worked(
        {"movements": "as above"}, {"load 1 may be in": _reached(trace.trace_forward(events, load))}
    )
