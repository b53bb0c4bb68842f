"""Whether to stay open another day."""

from decimal import Decimal

import numpy as np

from apps.domain import season_end
from apps.operation.numbers import show
from apps.operation.numbers.entry import Area, Basis, Worked

AREA = Area("season_end", "The season's end")
FREEZE_C = -1.1
NIST = "NIST/SEMATECH e-Handbook of Statistical Methods, section 4.1.4.1"
SUGAR = (2.2, 2.1, 2.1, 1.9, 1.7)
SUGAR_WORDS = "2.2, 2.1, 2.1, 1.9, 1.7 Brix on five days in a row"


@AREA.explain(
    "nights_left",
    "Freeze nights left",
    formula="days whose minimum ≤ the freeze limit, by member; the counts 8 in 10 lie between",
    units="nights; °C compared at 0.01 °C",
    validity="as far as every model reaches; a member with a gap there is not counted",
    source="counting; the limit of -1.1 °C is common practice, no source",
    basis=Basis.PRACTICE,
)
def nights() -> Worked:
    members = np.array([[-3.0, 1.0, 2.0]] + [[-3.0, -2.0, 2.0]] * 8 + [[-3.0, -2.0, -1.1]])
    left = season_end.nights_left([members], FREEZE_C)
    words = f"{left.low} to {left.high}, middle {left.middle}" if left else "unknown"
    return Worked(
        {"ten members": "one freezes on 1 of 3 nights, eight on 2, one on all 3"},
        {"nights left": words},
    )


@AREA.explain(
    "weighted_quantiles",
    "Quantiles over members of several models",
    formula="the least value at or under which the share of the weight lies",
    units="those of the values",
    validity="each model's members together weigh as much as another's",
    source="Hyndman and Fan (1996), The American Statistician 50:361, definition 1",
    basis=Basis.PUBLISHED,
)
def quantiles() -> Worked:
    values = np.array([-4.0, -2.0, 0.0, 5.0])
    weights = np.array([1 / 3, 1 / 3, 1 / 3, 1.0])
    middle = season_end.weighted_quantiles(values, weights, [0.5])[0]
    return Worked(
        {"a model of three members": "-4, -2 and 0 °C", "a model of one": "5 °C"},
        {"the middle": show.celsius(middle)},
    )


@AREA.explain(
    "warmth_since_freeze Warmth.at_least",
    "Warmth since the last freeze",
    formula="sum of degrees over 0 °C of the hours after the last one at or under the limit",
    units="°C hours",
    validity="a lower bound while hours are missing or the record holds no freeze",
    source="counting; the limit of -1.1 °C is common practice, no source",
    basis=Basis.PRACTICE,
)
def warmth() -> Worked:
    found = season_end.warmth_since_freeze(np.array([-2.0] + [4.0] * 10 + [-1.0] * 2), FREEZE_C)
    if found is None or found.at_least:
        raise AssertionError("the example knows every hour")
    return Worked(
        {"hours": "one at -2 °C, ten at 4, two at -1"},
        {"since the freeze": f"{found.hours} h, {found.thaw_degree_hours:.0f} °C hours"},
    )


@AREA.explain(
    "sugar_trend SugarTrend.words",
    "How the sugar goes",
    formula="slope = Sxy / Sxx; interval ± t s / √Sxx, s² = squares left over / (n − 2)",
    units="Brix a day",
    validity="five days or more; days in a row are not independent, so rather too narrow",
    source=NIST,
    basis=Basis.PUBLISHED,
)
def sugar() -> Worked:
    trend = season_end.sugar_trend(range(5), SUGAR)
    if trend is None:
        raise AssertionError("five days are enough")
    words = f"{trend.slope:+.2f} Brix a day ({trend.low:+.2f} to {trend.high:+.2f}): {trend.words}"
    return Worked({"sugar": SUGAR_WORDS}, {"trend": words})


@AREA.explain(
    "student_t",
    "Quantile of t",
    formula="the value within which the share lies, found by halving",
    units="none",
    validity="whole degrees of freedom, 1 to 10,000",
    source="Abramowitz and Stegun (1964), 26.7.3 and 26.7.4",
    basis=Basis.PUBLISHED,
)
def quantile_of_t() -> Worked:
    return Worked(
        {"share": "95 %", "degrees of freedom": "3"}, {"t": f"{season_end.student_t(0.95, 3):.3f}"}
    )


@AREA.explain(
    "day_worth DayWorth.words",
    "What one more day is worth",
    formula="sap × syrup per sap × price − the day's cost; low, middle and high",
    units="the operation's money, to the cent",
    validity="the owner's own price and cost; nothing is assumed for either",
    source="arithmetic; syrup from sap by the revised Jones rule",
    basis=Basis.COMPUTED,
)
def worth() -> Worked:
    found = season_end.day_worth(
        season_end.Span(0.0, 4000.0, 8000.0),
        season_end.Span(1.8, 2.0, 2.2),
        price_per_litre=Decimal("10.00"),
        day_cost=Decimal("300.00"),
    )
    return Worked(
        {
            "sap": f"0, {show.litres(4000, 0)} or {show.litres(8000, 0)}",
            "sugar": "1.8, 2.0 or 2.2 Brix",
            "price and cost": "10.00 a litre of syrup, 300.00 a day",
        },
        {
            "worth": f"{found.low} to {found.high}, middle {found.middle}: {found.words}",
            "pays from": f"{show.litres(found.break_even_litres, 0)} of sap",
        },
    )
