"""The pictures of the season's end hold what their tables hold."""

from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from apps.domain.season_end import nights_left, sugar_trend
from apps.outlook.charts_season_end import freeze_nights, sugar
from apps.outlook.season_end import SugarDay, WoodlotEnd, by_day_chances

DATES = tuple(date(2026, 3, 17) + timedelta(days=number) for number in range(4))
FREEZE_C = -1.1


def row(name="Beech Ledge", *, minima=(), sugars=()):
    """A woodlot's row; only its name is asked of the days ahead."""
    days = tuple(
        SugarDay(date(2026, 3, 1) + timedelta(days=number), brix, 1000.0)
        for number, brix in enumerate(sugars)
    )
    return WoodlotEnd(
        runs=SimpleNamespace(woodlot=SimpleNamespace(name=name), days=()),
        dates=DATES,
        nights=nights_left([np.array(minima, dtype=float)], FREEZE_C) if len(minima) else None,
        warmth=None,
        sugar=days,
        trend=sugar_trend(range(len(sugars)), sugars),
    )


TWELVE = [[-5.0, -5.0, 2.0, 2.0]] * 3 + [[-5.0, 2.0, 2.0, 2.0]] * 9


def test_a_line_for_each_woodlot_with_chances():
    rows = [row(minima=TWELVE), row("Cold Brook"), row("Home Hill", minima=[[-5.0] * 4] * 10)]
    drawn = freeze_nights(DATES, rows).spec["data"]
    assert [trace["name"] for trace in drawn] == ["Beech Ledge", "Home Hill"]
    # All twelve freeze on the first night, three of them on the second.
    assert drawn[0]["y"] == [100, 25, 0, 0]
    assert drawn[0]["x"][0] == "2026-03-17"


def test_lines_are_told_apart_without_colour():
    rows = [row(name, minima=TWELVE) for name in ("One", "Two", "Three")]
    drawn = freeze_nights(DATES, rows).spec["data"]
    assert len({(one["line"]["dash"], one["marker"]["symbol"]) for one in drawn}) == 3


@pytest.mark.parametrize("rows", [[], [row()], [row(minima=[[-5.0] * 4] * 9)]])
def test_under_ten_members_there_is_no_picture_of_chances(rows):
    assert freeze_nights(DATES, rows) is None
    assert by_day_chances(rows) == {}


def test_a_night_nobody_knows_is_a_gap():
    rows = [row(minima=[[-5.0, np.nan, np.nan, -5.0]] * 12)]
    assert freeze_nights(DATES, rows).spec["data"][0]["y"] == [100, None, None, 100]


def test_the_line_through_the_sugar_is_that_of_the_slope():
    # 2.2, 2.1, 2.1, 1.9, 1.7: mean 2.0 on the third day, -0.12 a day: 2.24 to 1.76.
    marks, line = sugar([row(sugars=(2.2, 2.1, 2.1, 1.9, 1.7))]).spec["data"]
    assert marks["y"] == [2.2, 2.1, 2.1, 1.9, 1.7]
    assert line["y"] == pytest.approx([2.24, 1.76])
    assert (line["x"][0], line["x"][1]) == ("2026-03-01", "2026-03-05")


def test_too_few_days_have_marks_and_no_line():
    assert [one["mode"] for one in sugar([row(sugars=(2.0, 2.1))]).spec["data"]] == ["markers"]


def test_no_sugar_measured_draws_nothing():
    assert sugar([row()]) is None
