"""import_hourly and freeze_thaw from the command line: what they write, print and refuse."""

import json
from datetime import UTC, datetime, timedelta, timezone
from io import StringIO
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from apps.weather.models import RecordedYear, SetAside
from apps.weather.queries.months import standard_time
from apps.weather.queries.readings import whole_record
from apps.woods.models import Woodlot
from tests.factories import operation as people
from tests.factories import readings as made
from tests.factories.woods import woodlot

pytestmark = pytest.mark.django_db
PLACE = "--new-woodlot=42.449,-72.680,260"
START = datetime(2025, 3, 1, 5, tzinfo=UTC)


@pytest.fixture
def file(tmp_path):
    def write(text):
        path = tmp_path / "hours.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return str(path)

    return write


def bring_in(path, *options, name="Whately"):
    out = StringIO()
    call_command("import_hourly", name, path, *options, stdout=out)
    return out.getvalue()


def count(*options, name="Whately", first="2025-03-01", last="2025-03-31"):
    out = StringIO()
    call_command("freeze_thaw", name, f"--from={first}", f"--to={last}", *options, stdout=out)
    return out.getvalue()


def rows(*options, **where):
    return json.loads(count("--json", *options, **where))


def test_a_record_without_a_woodlot_makes_one_and_finds_it_again(file):
    path = file(made.sheet(START, [1.0, None]))
    assert "Whately: 1 hours with a value, 1 missing; 1 added" in bring_in(path, PLACE)
    lot = Woodlot.objects.get()
    assert (lot.latitude, lot.longitude, lot.elevation_m) == (42.449, -72.68, 260.0)
    assert "0 added, 0 changed, 0 emptied, 1 as they were" in bring_in(path, PLACE)
    assert Woodlot.objects.count() == 1


def test_an_hour_imported_again_is_as_the_newer_record_has_it(file):
    bring_in(file(made.sheet(START, [1.0, 2.0, 3.0])), PLACE)
    out = bring_in(file(made.sheet(START, [1.0, 5.0, None, 4.0])))
    assert "1 added, 1 changed, 1 emptied, 1 as they were" in out
    kept = whole_record(Woodlot.objects.get()).temps_c
    assert kept[[0, 1, 3]].tolist() == [1.0, 5.0, 4.0]
    assert np.isnan(kept[2])


def test_a_record_leaves_hours_alone_that_it_has_no_row_for(file):
    bring_in(file(made.sheet(START, [1.0, 2.0])), PLACE)
    bring_in(file(made.sheet(START + timedelta(hours=1), [7.0])))
    assert whole_record(Woodlot.objects.get()).temps_c.tolist() == [1.0, 7.0]


def test_a_record_may_run_over_the_turn_of_the_year(file):
    bring_in(file(made.sheet(datetime(2024, 12, 31, 23, tzinfo=UTC), [1.0, 2.0])), PLACE)
    assert list(RecordedYear.objects.order_by("year").values_list("year", flat=True)) == [
        2024,
        2025,
    ]
    record = whole_record(Woodlot.objects.get())
    assert record.temps_c.tolist() == [1.0, 2.0]
    assert record.start_at == datetime(2024, 12, 31, 23, tzinfo=UTC)


def test_a_broken_sensors_values_are_set_aside_told_and_missing(file):
    temps = [-3.0] * 10 + [-85.0] * 30 + [5.0] * 8
    out = bring_in(file(made.sheet(START, temps)), PLACE)
    assert "18 hours with a value, 30 missing" in out
    assert "30 set aside, never reckoned with:" in out
    assert "row 12, 2025-03-01T15:00Z: -85 C, -85 C is not between -60 and 60 C" in out
    assert "  and 10 more" in out
    assert SetAside.objects.count() == 30
    # Ten and eight hours are left of two days: neither is complete, and -85 C froze nothing.
    (month,) = rows("--standard-time")
    assert (month["complete_days"], month["days"]) == (0, 0)


def test_a_value_corrected_later_is_no_longer_set_aside(file):
    bring_in(file(made.sheet(START, [-85.0, -127.0])), PLACE)
    bring_in(file(made.sheet(START, [-8.5])))
    assert list(SetAside.objects.values_list("value_c", flat=True)) == [-127.0]


def test_rows_out_of_order_repeated_and_unreadable_are_told(file):
    text = made.sheet(START, [1.0, 2.0]) + f"{START:%Y-%m-%dT%H:%MZ},1.0\nlater,4\n"
    out = bring_in(file(text), PLACE)
    assert "1 rows repeat an hour." in out
    assert "1 rows stood out of order of time." in out
    assert "1 not read:" in out
    assert "row 5: “later” is not a time like 2015-01-01T05:00Z" in out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "There is no woodlot called Whately"),
        (["--new-woodlot=42,-72"], "write LATITUDE,LONGITUDE,ELEVATION_M"),
        (["--new-woodlot=a,b,c"], "write LATITUDE,LONGITUDE,ELEVATION_M"),
        (["--new-woodlot=91,-72,260"], "There can be no such woodlot"),
    ],
)
def test_a_record_without_a_place_is_refused(file, options, words):
    with pytest.raises(CommandError, match=words):
        bring_in(file(made.sheet(START, [1.0])), *options)
    assert not Woodlot.objects.exists()


def test_a_woodlot_of_that_name_elsewhere_is_not_taken_for_it(file):
    woodlot("Whately")
    with pytest.raises(CommandError, match="already a woodlot called Whately, at another place"):
        bring_in(file(made.sheet(START, [1.0])), PLACE)


@pytest.mark.parametrize(
    ("text", "words"), [("a,b\n", "must head one column"), (b"\xff\xfe", "not UTF-8")]
)
def test_what_is_no_record_makes_no_woodlot(file, text, words):
    with pytest.raises(CommandError, match=words):
        bring_in(file(text), PLACE)
    assert not Woodlot.objects.exists()


def test_a_file_that_is_not_there_is_named():
    with pytest.raises(CommandError, match=r"nowhere\.csv cannot be read"):
        bring_in("nowhere.csv", PLACE)


def test_only_json_is_printed_with_the_fields_of_each_month():
    lot = woodlot("Whately")
    made.imported(lot, START, ([-3.0] * 12 + [5.0] * 12) * 2)
    assert rows("--standard-time") == [
        {
            "month": "2025-03",
            "complete_days": 2,
            "days": 2,
            "cycles": 2,
            "longest_thaw_hours": 12,
        }
    ]


# 30 F is -1.111 C and 36 F is 2.222 C: NIST SP 811 (2008), appendix B.9. At 0.01 C both limits
# are included.
@pytest.mark.parametrize(
    ("low_c", "high_c", "limits", "days"),
    [
        (-1.11, 2.22, (-1.11, 2.22), 1),
        (-1.11, 2.22, (-1.1111, 2.2222), 1),
        (-1.10, 2.22, (-1.11, 2.22), 0),
        (-1.11, 2.21, (-1.11, 2.22), 0),
        (-1.1, 2.2, (-1.1, 2.2), 1),
        (-1.09, 2.2, (-1.1, 2.2), 0),
        (-1.1, 2.19, (-1.1, 2.2), 0),
        # Halves of a hundredth go as in numpy, before anything is stored.
        (-1.105, 2.205, (-1.1, 2.2), 1),
        (-1.1, 2.005, (-1.1, 2.01), 0),
    ],
)
def test_the_limits_at_exactly_30_and_36_fahrenheit(low_c, high_c, limits, days):
    made.imported(woodlot("Whately"), START, [low_c] * 12 + [high_c] * 12)
    freeze_c, thaw_c = limits
    (month,) = rows(f"--freeze-c={freeze_c}", f"--thaw-c={thaw_c}", "--standard-time")
    assert month["days"] == days


def test_without_limits_those_of_the_settings_count(fixed_clock):
    made.imported(woodlot("Whately"), START, [-1.1] * 12 + [2.2] * 12)
    (month,) = rows("--standard-time")
    assert month["days"] == 1


@pytest.mark.parametrize(("known", "complete"), [(19, 0), (20, 1)])
def test_a_day_needs_twenty_hours_to_be_complete(known, complete):
    temps = [-3.0] * 10 + [5.0] * (known - 10)
    made.imported(woodlot("Whately"), START, temps)
    (month,) = rows("--standard-time")
    assert (month["complete_days"], month["days"]) == (complete, complete)


def test_civil_days_move_with_the_clock_and_standard_days_do_not():
    # 10 March 2025 is EDT, four hours behind: the hour at 04:00 UTC is midnight there.
    start = datetime(2025, 3, 10, 4, tzinfo=UTC)
    made.imported(woodlot("Whately"), start, [-3.0] * 4 + [5.0] * 20)
    assert rows()[0]["complete_days"] == 1
    assert rows("--standard-time")[0]["complete_days"] == 1
    made.imported(woodlot("Beech Ledge"), start, [-3.0] * 10 + [5.0] * 10)
    # In standard time one of those twenty hours falls on the ninth.
    assert rows(name="Beech Ledge")[0]["complete_days"] == 1
    assert rows("--standard-time", name="Beech Ledge")[0]["complete_days"] == 0


@pytest.mark.parametrize(
    ("zone", "hours"),
    [
        ("America/New_York", -5),
        ("America/Toronto", -5),
        ("America/St_Johns", -3.5),
        ("America/Halifax", -4),
        ("Asia/Tokyo", 9),
        ("Australia/Hobart", 10),
    ],
)
def test_standard_time_is_the_zones_offset_without_daylight_saving(zone, hours):
    assert standard_time(ZoneInfo(zone), 2025) == timezone(timedelta(hours=hours))


def test_a_freeze_before_the_span_carries_into_it_and_days_before_it_do_not_count():
    temps = [-3.0] * 24 + [5.0] * 12 + [-3.0] * 12
    made.imported(woodlot("Whately"), START, temps)
    (month,) = rows("--standard-time", first="2025-03-02")
    assert (month["complete_days"], month["days"], month["cycles"]) == (1, 1, 1)
    (month,) = rows("--standard-time", first="2025-03-01", last="2025-03-01")
    assert (month["complete_days"], month["days"], month["cycles"]) == (1, 0, 0)


def test_months_the_record_does_not_touch_are_left_out():
    made.imported(woodlot("Whately"), START, [1.0] * 24)
    assert [row["month"] for row in rows("--standard-time", first="2024-01-01")] == ["2025-03"]
    assert rows(first="2024-01-01", last="2024-12-31") == []


def test_the_table_says_where_the_hours_come_from():
    made.imported(woodlot("Whately"), START, ([-3.0] * 12 + [5.0] * 12) * 2)
    lines = count("--standard-time").splitlines()
    assert lines[0].split("  ") == ["month", "complete days", "days", "cycles", "longest thaw, h"]
    assert lines[1].split() == ["2025-03", "2", "2", "2", "12"]
    assert lines[2] == "From 48 h from an imported record."


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--from=2025-03-02", "--to=2025-03-01"], "--from must not be after --to"),
        (["--from=March", "--to=2025-03-01"], "invalid fromisoformat value: 'March'"),
        (["--from=2025-03-01", "--to=2025-03-02"], "No hours are recorded for Whately"),
        (
            ["--from=2025-03-01", "--to=2025-03-02", "--freeze-c=3", "--thaw-c=2"],
            "freeze_c 3 must be under thaw_c 2",
        ),
    ],
)
def test_a_question_without_an_answer_is_refused(options, words):
    woodlot("Whately")
    with pytest.raises(CommandError, match=words):
        call_command("freeze_thaw", "Whately", *options, stdout=StringIO())


def test_days_are_those_of_the_operations_own_zone():
    people.operation(time_zone="Asia/Tokyo")
    made.imported(woodlot("Whately"), datetime(2025, 3, 9, 15, tzinfo=UTC), [-3.0, 5.0] * 12)
    assert rows()[0]["complete_days"] == 1
    people.operation(time_zone="America/New_York")
    assert rows()[0]["complete_days"] == 0
