"""Which line to walk to, in what order, and where on it the leak is."""

import numpy as np

from apps.domain import leak_ranking, valve_test, walking
from apps.domain.units import kpa_from_inhg
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

RANKING = Area("leak_ranking", "Which line first")
VALVES = Area("valve_test", "Valve test")
WALKING = Area("walking", "The walk")
PROCEDURE = "the procedure and the limit of 0.5 inHg are common practice, no source"
RANK = "litres an hour = taps × sap a tap and day × share lost / ((walk + fix minutes) / 60)"
RANK_SOURCE = (
    "gain over time: Smith, Naval Research Logistics Quarterly 3 (1956), from memory; 0.9 gal a "
    "tap and day, 30 and 15 minutes: common practice, no source; share lost as under Vacuum"
)


@RANKING.explain(
    "rank",
    "Sap won back for an hour of walking and fixing",
    formula=RANK,
    units="litres of sap a day won back, for each hour of work",
    validity="a frozen line, no reading or a gauge fault has no rank and is kept apart",
    source=RANK_SOURCE,
    basis=Basis.PRACTICE,
)
def ranked() -> Worked:
    lines = (
        leak_ranking.LineState("A", 120, kpa_from_inhg(24.0)),
        leak_ranking.LineState("B", 60, kpa_from_inhg(18.0), walk_minutes=60.0),
        leak_ranking.LineState("C", 200, kpa_from_inhg(5.0), state="frozen"),
    )
    found = leak_ranking.rank(lines, target_kpa=kpa_from_inhg(26.0))
    rows = {f"line {row.line_id}": show.litres_hour(row.litres_per_hour) for row in found.ranked}
    rows |= {f"line {row.line_id}": f"no rank: {row.reason}" for row in found.not_ranked}
    return Worked(
        {
            "target": "26 inHg",
            "line A": "120 taps at 24 inHg, 30 + 15 minutes",
            "line B": "60 taps at 18 inHg, 60 + 15 minutes",
            "line C": "200 taps, frozen",
        },
        rows,
    )


@RANKING.explain(
    "rank_arrays",
    "The same for thousands of lines at once",
    formula=RANK,
    units="litres of sap a day won back, for each hour of work",
    validity="a reading that is missing has no rank",
    source=RANK_SOURCE,
    basis=Basis.PRACTICE,
)
def ranked_arrays() -> Worked:
    readings = np.array([kpa_from_inhg(24.0), kpa_from_inhg(18.0), np.nan])
    found = leak_ranking.rank_arrays(
        np.array([120, 60, 200]),
        readings,
        np.array([45.0, 75.0, 45.0]),
        target_kpa=kpa_from_inhg(26.0),
    )
    rows = {f"line {'ABC'[at]}": show.litres_hour(found.litres_per_hour[at]) for at in found.order}
    return Worked({"lines": "A and B as above; C without a reading"}, rows)


@VALVES.explain(
    "judge_manifold",
    "Lines at a manifold",
    formula="rise = gauge with only this line shut − gauge with all open; leaks from 0.5 inHg on",
    units="kPa (inHg)",
    validity="a frozen or still line gives no verdict. Open every valve again afterwards",
    source=PROCEDURE,
    basis=Basis.PRACTICE,
)
def manifold() -> Worked:
    readings = (("A", 22.5), ("B", 24.0))
    lines = tuple(valve_test.LineReading(name, kpa_from_inhg(inches)) for name, inches in readings)
    result = valve_test.judge_manifold(
        valve_test.ManifoldTest(kpa_from_inhg(25.0), kpa_from_inhg(22.4), lines)
    )
    rows = {
        f"line {line.line_id}": f"{line.verdict}, rise {show.kpa(line.rise_kpa or 0.0)}"
        for line in result.lines
    }
    return Worked(
        {"all open": "22.4 inHg", "only A shut": "22.5 inHg", "only B shut": "24.0 inHg"}, rows
    )


@VALVES.explain(
    "start_bisection Bisection.record Bisection.valve Bisection.step Bisection.stretch "
    "Bisection.prompt",
    "Along a mainline, valve by valve",
    formula="shut the middle valve of what is left; at most ⌈log₂(valves + 1)⌉ closings",
    units="valves and stretches, numbered from the pump",
    validity="one leak, or the largest; no verdict from a frozen line",
    source="binary search; the procedure is common practice, no source",
    basis=Basis.COMPUTED,
)
def bisection() -> Worked:
    search, leak = valve_test.start_bisection(7), 5
    told = []
    while search.step == "shut":
        valve = search.valve or 0
        told.append(search.prompt.partition(" and")[0])
        search = search.record(recovers=leak >= valve)
    return Worked(
        {"valves": "7", "the leak": f"between valves {leak} and {leak + 1}"},
        {
            "closings": f"{search.closings}: {', '.join(told)}",
            "found": f"beyond valve {search.stretch}, before valve {(search.stretch or 0) + 1}",
        },
    )


@VALVES.explain(
    "gauge_recovers",
    "Whether the gauge recovered",
    formula="gauge shut − gauge open ≥ 0.5 inHg",
    units="kPa (inHg), compared at a thousandth of an inch",
    validity="0 to 110 kPa",
    source=PROCEDURE,
    basis=Basis.PRACTICE,
)
def recovers() -> Worked:
    rows = {
        f"{shut:g} inHg shut": (
            "recovers"
            if valve_test.gauge_recovers(kpa_from_inhg(22.0), kpa_from_inhg(shut))
            else "does not"
        )
        for shut in (22.4, 22.5)
    }
    return Worked({"open": "22 inHg"}, rows)


@WALKING.explain(
    "walk_minutes",
    "Minutes between two places",
    formula="minutes = map metres × 1.3 / (3 km/h × 1000 / 60)",
    units="minutes from m",
    validity="0.1 to 50 km/h; a guess until the crew's own times are known",
    source="3 km/h on snow and a detour of 1.3 are common practice, no source",
    basis=Basis.PRACTICE,
)
def minutes() -> Worked:
    apart = walking.walk_minutes([(0.0, 0.0), (300.0, 400.0)])
    return Worked({"on the map": show.metres(500.0, 0)}, {"walk": f"{apart[0, 1]:.1f} minutes"})


@WALKING.explain(
    "best_walk WalkLimits.minutes",
    "The order to walk lines in",
    formula="most litres a day for each hour; with set hours, most litres within them",
    units="litres a day, minutes",
    validity="exact up to 9 lines; beyond, good but not proven best",
    source="Held and Karp, J. SIAM 10 (1962); 2-opt, Croes (1958): both from memory",
    basis=Basis.MEMORY,
)
def walk() -> Worked:
    stops = (
        walking.Stop("A", 40.0, 15.0),
        walking.Stop("B", 30.0, 15.0),
        walking.Stop("C", 90.0, 15.0),
    )
    places = [(0.0, 0.0), (200.0, 0.0), (400.0, 0.0), (2500.0, 0.0)]
    best = walking.best_walk(stops, walking.walk_minutes(places), walking.WalkLimits(hours=1.5))
    return Worked(
        {
            "won back a day": "A 40 L, B 30 L, C 90 L; 15 minutes to fix each",
            "from the start": "A 200 m, B 400 m, C 2,500 m, on one path",
            "hours": "1.5, there and back",
        },
        {
            "walk": ", then ".join(best.line_ids),
            "time": f"{best.hours:.2f} h",
            "won back": f"{best.litres_per_day:.0f} L a day",
        },
    )
