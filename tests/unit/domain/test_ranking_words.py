"""What the leak ranking says in words, and the smallest losses that still count."""

import numpy as np
import pytest

from apps.domain import leak_ranking
from apps.domain.leak_ranking import LineState, RankedLine
from apps.domain.units import kpa_from_inhg

TARGET_KPA = kpa_from_inhg(26.0)


def _row(litres_per_day, minutes):
    return RankedLine(
        line_id="1",
        name="L1",
        target_kpa=TARGET_KPA,
        deficit_kpa=1.0,
        share_lost=0.1,
        litres_per_day=litres_per_day,
        minutes=minutes,
        litres_per_hour=litres_per_day / (minutes / 60),
        why="",
    )


@pytest.mark.parametrize(
    ("above", "below", "words"),
    [
        ((90, 30), (60, 45), "above L1: more sap lost and less time to reach and fix"),
        ((90, 45), (50, 30), "above L1: more sap lost, for a longer job"),
        ((90, 45), (60, 45), "above L1: more sap lost, for the same time"),
        ((60, 30), (60, 45), "above L1: the same sap lost, in less time"),
        (
            (50, 15),
            (90, 45),
            "above L1: less sap lost, but so much sooner reached and fixed that it pays",
        ),
        ((60, 30), (120, 60), "level with L1; kept in the order given"),
    ],
)
def test_the_reason_is_said_in_full(above, below, words):
    assert leak_ranking._why(_row(*above), _row(*below)) == words


def test_a_line_nobody_looked_at_is_unchecked():
    assert LineState("A", 100, None).state == "unchecked"


def test_a_loss_under_a_litre_an_hour_still_earns_a_rank():
    # 2 taps losing 5 % of an inch: a fifth of a litre a day for 45 minutes.
    readings = np.array([kpa_from_inhg(25.0)])
    found = leak_ranking.rank_arrays(
        np.array([2]), readings, np.array([45.0]), target_kpa=TARGET_KPA
    )
    assert 0 < found.litres_per_hour[0] < 1
    assert found.order.tolist() == [0]
