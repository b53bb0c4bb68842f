"""Skill on the open sap record, leave one year out; nothing is tuned on the year it is scored on.

Source: fixtures/open_data/sap (R package macleish 0.3.10, CC0; Daymet extremes, ORNL DAAC). The
bounds are the ones asked of any rule on this record; the figures themselves are in DEVELOPERS.md.
"""

from datetime import date

import numpy as np
import pytest

from apps.domain import sap_run as sr
from apps.domain.sap_run import scoring
from apps.domain.sap_run.likelihood import WHATELY_2013_2014
from tests.unit.domain import open_sap


@pytest.fixture(scope="module")
def scored():
    return open_sap.leave_one_year_out()


def test_the_record_is_scored_on_both_its_years(scored):
    years = {date.fromordinal(day).year for day in scored.day.astype(int).tolist()}
    assert years == {2013, 2014}
    assert scored.came.size == 66


def test_the_stored_coefficients_are_what_the_fit_gives():
    again = open_sap.fitted(*open_sap.YEARS)
    assert again.intercept == pytest.approx(WHATELY_2013_2014.intercept, abs=5e-5)
    assert again.slopes == pytest.approx(WHATELY_2013_2014.slopes, abs=5e-5)


@pytest.mark.parametrize("rule", ["same_day", "day_before", "base_rate", "pooled_rate"])
def test_it_beats_the_plain_rule_and_the_base_rate_on_brier_score(scored, rule):
    ours = scoring.brier(scored.ours, scored.came)
    assert ours < scoring.brier(getattr(scored, rule), scored.came) - 0.05


def test_its_pooled_auc_is_at_least_seven_tenths(scored):
    assert scoring.auc(scored.ours, scored.came) >= 0.70


@pytest.mark.parametrize("shift_c", [-1.0, 1.0])
def test_a_degree_either_way_costs_little(scored, shift_c):
    shifted = open_sap.leave_one_year_out(shift_c)
    lost = scoring.auc(scored.ours, scored.came) - scoring.auc(shifted.ours, shifted.came)
    assert lost <= 0.05


def test_a_degree_up_blinds_the_plain_rule(scored):
    shifted = open_sap.leave_one_year_out(1.0)
    assert scoring.auc(shifted.same_day, shifted.came) < scoring.auc(scored.ours, scored.came) - 0.2


def test_the_lead_over_both_rules_outlasts_a_block_bootstrap(scored):
    blocks = scoring.day_blocks(scored.day, open_sap.BLOCK_DAYS)
    for rule in (scored.same_day, scored.base_rate):
        found = scoring.block_bootstrap(lambda at, rule=rule: lead(scored, rule, at), blocks)
        assert found.high < 0


def lead(scored, rule, at):
    """Our Brier score less the rule's over the days drawn."""
    came = scored.came[at]
    return scoring.brier(scored.ours[at], came) - scoring.brier(rule[at], came)


def test_no_year_is_stated_by_a_fit_that_saw_it():
    for year in open_sap.YEARS:
        (other,) = set(open_sap.YEARS) - {year}
        here = open_sap.season(year)
        stated = sr.run_probability(here.weather, open_sap.fitted(other))
        kept = ~np.isnan(stated) & ~np.isnan(here.runs)
        scored = open_sap.leave_one_year_out()
        mine = np.isin(scored.day, [day.toordinal() for day in here.weather.dates])
        assert scored.ours[mine] == pytest.approx(stated[kept])
