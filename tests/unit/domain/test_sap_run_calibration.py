"""Stated chances against what came, over winters made by chance; all of it simulated.

Where the truth is drawn like one more member, what is stated must come about as often as stated,
in every tenth. Where it is not, the same reliability must show it.
"""

import numpy as np
import pytest

from apps.domain.sap_run import scoring
from tests.unit.domain.forecast_simulation import World, winters

COUNT = 2000
SEED = 20260301


@pytest.fixture(scope="module")
def like_a_member():
    return winters(COUNT, SEED)


def runs(drawn):
    return [one.run_stated for one in drawn], [one.ran for one in drawn]


def freeze_thaws(drawn):
    return [one.freeze_thaw_stated for one in drawn], [one.froze_and_thawed for one in drawn]


@pytest.mark.parametrize("said", [runs, freeze_thaws], ids=["run", "freeze-thaw"])
def test_every_tenth_comes_as_often_as_stated(like_a_member, said):
    tenths = scoring.reliability(*said(like_a_member))
    strays = [tenth for tenth in tenths if tenth.within is False]
    assert strays == []


@pytest.mark.parametrize("said", [runs, freeze_thaws], ids=["run", "freeze-thaw"])
def test_the_winters_fill_every_tenth(like_a_member, said):
    counts = [tenth.count for tenth in scoring.reliability(*said(like_a_member))]
    assert sum(counts) == COUNT
    # The likelihood of a run seldom comes near certainty; the other tenths all hold days.
    assert min(counts[:9]) >= COUNT / 200


@pytest.mark.parametrize("world", [World(warmer_c=2), World(warmer_c=-2)], ids=["warmer", "colder"])
def test_a_truth_unlike_the_members_shows(world):
    drawn = winters(COUNT, SEED, world)
    tenths = [*scoring.reliability(*runs(drawn)), *scoring.reliability(*freeze_thaws(drawn))]
    assert any(tenth.within is False for tenth in tenths)


def test_members_too_sure_of_themselves_show():
    drawn = winters(COUNT, SEED, World(wider=4))
    tenths = scoring.reliability(*freeze_thaws(drawn))
    sure, unlikely = tenths[9], tenths[0]
    assert sure.came < sure.band_low
    assert unlikely.came > unlikely.band_high


def test_the_score_of_stated_chances_is_what_calibration_implies(like_a_member):
    stated, came = runs(like_a_member)
    implied = np.mean(np.multiply(stated, np.subtract(1, stated)))
    assert scoring.brier(stated, came) == pytest.approx(implied, abs=1.5 / COUNT**0.5)
