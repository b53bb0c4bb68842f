"""The one answer to when to start: which rule leads, and that the board and the brief repeat it.

The woods and seasons are those of tests/factories/outlook.py: counted back, 18 February for the
morning of the 24th. The three kinds of forecast are the trade's own (common practice, no source).
"""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.urls import reverse

from apps.domain.start_guidance import Window
from apps.operation.models import SettingValue
from apps.operation.queries import constants, current_operation
from apps.outlook import brief
from apps.outlook.start import start_answer
from apps.outlook.verdict import shown_days
from tests.factories import outlook as paper
from tests.factories import tapping, weather, woods

pytestmark = pytest.mark.django_db
URL, BOARD = reverse("outlook:start_date"), reverse("today:board")
DAY = timedelta(days=1)
ZONE = ZoneInfo("America/New_York")
FROZEN, WARM, SOFT, SPELL = (-9.0, -4.0), (-3.0, 6.0), (-6.0, 4.0), (-2.0, 9.0)
KINDS = {
    "start now": [FROZEN] * 11 + [WARM] * 5,
    "plan": [FROZEN] * 4 + [SOFT, FROZEN, SOFT] + [FROZEN] * 9,
    "wait out the warm spell": [FROZEN] + [SPELL] * 3 + [FROZEN] * 12,
}


@pytest.fixture
def february(owner_client, settings):
    paper.stand_at(settings, paper.mid_february)
    return owner_client


@pytest.fixture
def lots(db):
    return paper.lots()


@pytest.fixture
def ten_seasons(db):
    paper.ten_seasons()


def forecast(lots, days):
    """Twelve members within half a degree, of two frozen days and then `days` from 16 February."""
    run = weather.run(fetched_at=paper.MIDNIGHT, product="ensemble", model="by hand")
    hours = [hour for low, high in [FROZEN, FROZEN, *days] for hour in [low] * 12 + [high] * 12]
    members = np.array(hours) + np.linspace(-0.25, 0.25, 12)[:, None]
    for lot in lots:
        weather.stored(run, lot, members, start_at=paper.MIDNIGHT - 2 * DAY)


def verdict(client, **asked):
    return client.get(URL, asked).context["verdict"]


def text(client, url=URL):
    return " ".join(client.get(url).content.decode().split())


def in_brief(now=None):
    written = brief.write(
        operation=current_operation(), now=now or paper.mid_february(), demo=False
    )
    return " ".join(written.text.split())


def set_to(key, value):
    SettingValue.objects.create(key=key, value=str(value), changed_at=paper.MIDNIGHT)


def late_seasons():
    for year in range(2016, 2026):
        tapping.first_run(date(year, 3, 20) + (year - 2016) * DAY)


class TestLeads:
    def test_weighed_goes_before_counted_back(self, february, lots, ten_seasons):
        told = verdict(february)
        assert (told.leads, told.word) == ("weighed", "any day will do")
        assert told.window == Window(date(2026, 2, 16), date(2026, 2, 18))
        assert told.days[0].date == told.window.last
        assert told.ready_morning == date(2026, 2, 24)

    def test_an_own_morning_goes_before_both_while_it_can_be_met(self, february, lots, ten_seasons):
        tapping.crew_plan(ready_morning=date(2026, 2, 27))
        told = verdict(february)
        assert (told.leads, told.headline) == ("own morning", "Start by Sat 21 February.")
        assert told.rests_on == "Counted back from the morning set in the crew plan."
        page = text(february)
        assert "Cross-check: weighed by the forecast and the past first runs" in page
        assert told.weighed_words in page
        assert "With that taken out of the" in page

    def test_an_own_morning_that_cannot_be_met_decides_nothing(self, february, lots, ten_seasons):
        tapping.crew_plan(ready_morning=date(2026, 2, 17))
        assert verdict(february).leads == "weighed"
        assert "the morning you set</summary>" in text(february)

    def test_in_summer_the_count_back_leads_and_says_until_when(
        self, owner_client, settings, lots, ten_seasons
    ):
        paper.stand_at(settings, paper.summer)
        told = verdict(owner_client)
        assert (told.leads, told.headline) == ("count back", "Start by Wed 18 February.")
        assert "From 1 December on, every possible start" in text(owner_client)

    def test_settings_against_each_other_leave_the_count_back(self, february, lots, ten_seasons):
        set_to("start.warm_end_c", 0)
        assert verdict(february).leads == "count back"
        assert "stand against each other" in text(february)

    def test_late_by_the_count_back_alone_is_said_so(self, owner_client, lots, ten_seasons):
        # It is 16 March.
        set_to("start.warm_end_c", 0)
        told = verdict(owner_client)
        assert (told.word, told.tone) == ("late", "bad")
        assert told.headline == "The day to start was Wed 18 February, 26 days ago."
        assert told.days == ()

    def test_under_way_and_overtaken_with_nothing_weighed_it_is_gone_on(
        self, owner_client, lots, ten_seasons, owner
    ):
        set_to("start.warm_end_c", 0)
        tapping.tally(lots[0].lines.get(), owner, 200)
        told = verdict(owner_client)
        assert (told.leads, told.word) == ("nothing", "go on")
        assert told.headline == "Tapping is under way: all in by the morning of Thu 19 March."

    def test_with_neither_it_says_what_is_missing(self, owner_client, settings, lots):
        paper.stand_at(settings, paper.summer)
        told = verdict(owner_client)
        assert (told.word, told.known) == ("cannot say", False)
        words = "Cannot say: 3 working days, but no first run on record to be ready for."
        assert told.headline == words


class TestCannotSay:
    def test_with_a_forecast_that_shows_no_sign_it_says_so(self, february, lots):
        forecast(lots, [FROZEN] * 16)
        told = verdict(february)
        assert (told.word, told.tone) == ("cannot say", "warn")
        assert "no first run is on record, and the forecast shows no sign" in told.headline
        assert (
            told.rests_on == "Weighed from 12 forecast members alone: no past first run is known."
        )

    def test_with_no_day_to_work_it_says_so(self, february, lots, ten_seasons):
        forecast(lots, [(-25.0, -20.0)] * 25)
        assert verdict(february).headline == (
            "Cannot say: no day of the next three weeks can be worked."
        )

    def test_with_nothing_at_all_there_is_nothing_it_rests_on(self, february, lots):
        assert verdict(february).rests_on == ""


@pytest.mark.parametrize("kind", KINDS)
class TestThreeKindsOfForecast:
    def test_the_verdict_is_that_of_the_trade(self, february, lots, kind):
        # Ten frozen days mean start now in time of season only, the others before it as well.
        begins = date(2016, 2, 18) if kind == "start now" else date(2016, 3, 20)
        for n in range(10):
            tapping.first_run(begins.replace(year=2016 + n) + 2 * n * DAY)
        forecast(lots, KINDS[kind])
        assert verdict(february).word == kind

    def test_without_past_first_runs_too(self, february, lots, kind):
        forecast(lots, KINDS[kind])
        assert verdict(february).word == kind

    def test_the_board_and_the_brief_say_the_same(self, february, lots, kind):
        forecast(lots, KINDS[kind])
        told = verdict(february)
        assert f'<p class="big">{told.headline}</p>' in text(february)
        board = text(february, BOARD)
        assert told.headline in board
        assert kind in board
        assert f"WHEN TO START TAPPING {told.headline}" in in_brief()


class TestOneHeadline:
    def states(self, lots, owner):
        """One after the other, each adding to the last."""
        yield "nothing on record"
        paper.ten_seasons()
        yield "ten seasons"
        forecast(lots, KINDS["wait out the warm spell"])
        yield "a spell at hand"
        plan = tapping.crew_plan(ready_morning=date(2026, 2, 27))
        yield "an own morning"
        plan.delete()
        tapping.tally(lots[0].lines.get(), owner, 200, tallied_on=date(2026, 2, 14))
        yield "under way"
        tapping.first_run(date(2026, 2, 15))
        yield "run"

    def test_there_is_one_in_every_state(self, february, lots, owner):
        seen = {}
        for state in self.states(lots, owner):
            page = february.get(URL)
            assert page.content.decode().count('<p class="big">') == 1, state
            seen[state] = page.context["verdict"].headline
        assert len(set(seen.values())) >= 5

    def test_the_other_date_stands_only_in_the_cross_check(self, february, lots):
        late_seasons()
        forecast(lots, KINDS["plan"])
        page = text(february)
        before, check = page.split('id="cross-check"', 1)
        assert "Counted back" not in before
        assert "Counted back: start by" in check.split("</details>")[0]


class TestCrossCheck:
    def test_both_agree(self, february, lots, ten_seasons):
        assert (verdict(february).days_apart, verdict(february).days_after) == (0, 0)
        assert "Both agree." in text(february)
        assert "Why the answer does not go by it" not in text(february)

    def test_an_earlier_count_back_is_explained(self, owner_client, settings, lots):
        paper.stand_at(settings, paper.late_january)
        # One early season in four: none may be missed whole, yet a fifth of every one may.
        for day in (date(2022, 2, 16), date(2023, 3, 10), date(2024, 3, 9), date(2025, 3, 10)):
            tapping.first_run(day)
        # 600 / 20 = 30 pair-hours there, 54 in all: five days and two lost before Mon 16 February
        # from Sat 7; setting out on Thu 12, 12 of 54 are in by that morning.
        set_to("tapping.pace_deep", 20)
        told = verdict(owner_client)
        assert told.window == Window(date(2026, 2, 10), date(2026, 2, 12))
        assert told.page.answer.back.start_date == date(2026, 2, 7)
        assert "That is 3 days earlier than the answer." in text(owner_client)

    def test_a_later_count_back_behind_the_list_is_explained(self, february, lots):
        late_seasons()
        told = verdict(february)
        assert told.guidance.told.presses is False
        assert told.days_after > 0
        assert "which only end the list of three weeks" in text(february)

    def test_a_later_count_back_past_a_sign_is_explained(self, february, lots, ten_seasons):
        forecast(lots, [FROZEN] * 4 + [(-3.0, 9.0)] * 12)
        told = verdict(february)
        assert told.days_after > 0
        assert "it sees neither a first run ahead of the past ones" in text(february)

    def test_there_is_none_where_nothing_leads(self, february):
        woods.woodlot("Bare")
        assert 'id="cross-check"' not in text(february)
        assert verdict(february).days_apart is None


class TestNobodyAsks:
    def answer(self, now=None):
        return start_answer(constants=constants(), zone=ZONE, now=now or paper.mid_february())

    def test_it_is_asked_from_december_on(self, lots, ten_seasons):
        assert self.answer(paper.summer()) is None
        assert self.answer() is not None

    def test_not_without_taps_to_set(self, db, ten_seasons):
        woods.woodlot("Bare")
        assert self.answer() is None

    def test_nor_with_all_in(self, lots, ten_seasons, owner):
        for lot in lots:
            tapping.tally(lot.lines.get(), owner, 0, finishes_line=True)
        assert self.answer() is None

    def test_nor_once_sap_has_run(self, february, lots, ten_seasons):
        tapping.first_run(date(2026, 2, 15))
        assert self.answer() is None
        assert "When to start tapping" not in text(february, BOARD)
        assert "WHEN TO START" not in in_brief()

    def test_the_runner_up_goes_with_it(self, february, lots, ten_seasons):
        assert "Runner-up: Thu 19 February." in text(february, BOARD)
        assert "Runner-up: Thu 19 February." in in_brief()


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (date(2026, 2, 9), date(2026, 2, 9), "Mon 9 February"),
        (date(2026, 2, 9), date(2026, 2, 11), "Mon 9 to Wed 11 February"),
        (date(2026, 1, 30), date(2026, 2, 2), "Fri 30 January to Mon 2 February"),
    ],
)
def test_a_window_names_its_month_once_where_it_can(first, last, words):
    assert shown_days(Window(first, last)) == words
