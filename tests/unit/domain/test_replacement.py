"""Choosing jobs against published knapsacks, an integer-programming library and brute force.

Nets are whole cents, so an exact answer has no tolerance. Beyond 20 jobs the answer must be
at least 99.5 % of the optimum (each of 300 random sets reached it) and the bound at or over it.
"""

import itertools
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from apps.domain.errors import OutOfRange
from apps.domain.replacement import Job, RepeatedJob, Terms, best_set, choose, worth

D = Decimal
TERMS = Terms(value_per_syrup_litre=D("8.00"), wage_per_hour=D("20.00"))


def _job(key="drops", sap=1000.0, parts="50.00", minutes=60, ratio=43.0):
    return Job(key, sap, ratio, D(parts), minutes)


def _whole(*columns):
    return [np.array(column, dtype=np.int64) for column in columns]


# F. Burkardt (Florida State University), KNAPSACK_01 data sets P01 and P07, and the example of
# Martello and Toth, Knapsack Problems, 1990, as printed in the adagio package: profits, weights,
# capacity and optimum. One limit only, so time is all zeros.
PUBLISHED_SMALL = [
    (
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        165,
        309,
        (0, 1, 2, 3, 5),
    ),
    (
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        750,
        1458,
        (0, 2, 4, 6, 7, 8, 13, 14),
    ),
    ([15, 100, 90, 60, 40, 15, 10, 1], [2, 20, 20, 30, 40, 30, 60, 10], 102, 280, (0, 1, 2, 3, 5)),
    ([70, 20, 39, 37, 7, 5, 10], [31, 10, 20, 19, 4, 3, 6], 50, 107, (0, 3)),
]


@pytest.mark.parametrize(("profits", "weights", "capacity", "best", "taken"), PUBLISHED_SMALL)
@pytest.mark.parametrize("limited_by", ["cost", "time"])
def test_small_published_knapsacks_are_solved_exactly(
    profits, weights, capacity, best, taken, limited_by
):
    profit, weight, nothing = _whole(profits, weights, [0] * len(profits))
    if limited_by == "cost":
        found = best_set(profit, weight, nothing, capacity, 0)
    else:
        found = best_set(profit, nothing, weight, 0, capacity)
    assert (found.net, found.bound, found.exact) == (best, best, True)
    assert found.positions == taken


# H. M. Weingartner and D. N. Ness, 1967, problem 1 (28 items, two limits of 600), optimum 141,278
# as distributed with OR-Library (J. E. Beasley) and in the mipQG example; and KNAPSACK_01 P08.
WEINGARTNER = """
1898 440 22507 270 14148 3100 4650 30800 615 4975 1160 4225 510 11880 479 440 490 330 110 560
24355 2885 11748 4550 750 3720 1950 10500

45 0 85 150 65 95 30 0 170 0 40 25 20 0 0 25 0 0 25 0 165 0 85 0 0 0 0 100

30 20 125 5 80 25 35 73 12 15 15 40 5 10 10 12 10 9 0 20 60 40 50 36 49 40 19 150
"""
P08 = """
825594 1677009 1676628 1523970 943972 97426 69666 1296457 1679693 1902996 1844992 1049289 1252836
1319836 953277 2067538 675367 853655 1826027 65731 901489 577243 466257 369261

382745 799601 909247 729069 467902 44328 34610 698150 823460 903959 853665 551830 610856 670702
488960 951111 323046 446298 931161 31385 496951 264724 224916 169684

0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0
"""


@pytest.mark.parametrize(
    ("columns", "budget", "minutes", "optimum"),
    [(WEINGARTNER, 600, 600, 141_278), (P08, 6_404_180, 0, 13_549_094)],
)
def test_large_published_knapsacks_reach_the_optimum_under_the_bound(
    columns, budget, minutes, optimum
):
    found = best_set(
        *_whole(*(column.split() for column in columns.split("\n\n"))), budget, minutes
    )
    assert found.net == optimum
    assert optimum <= found.bound <= optimum * 1.006
    assert not found.exact


def _random_set(seed, low, high):
    pick = np.random.default_rng(seed)
    count = int(pick.integers(low, high))
    net, cost = pick.integers(1, 50_000, count), pick.integers(100, 40_000, count)
    time = pick.integers(10, 900, count)
    budget = int(cost.sum() * pick.uniform(0.05, 0.8))
    return net, cost, time, budget, int(time.sum() * pick.uniform(0.05, 0.8))


@pytest.mark.parametrize("seed", range(40))
def test_large_sets_are_good_and_bounded_by_integer_programming(seed):
    # scipy.optimize.milp (HiGHS), asked for no gap: an independent exact optimum.
    net, cost, time, budget, minutes = _random_set(seed, 21, 50)
    limits = LinearConstraint(np.array([cost, time]), ub=[budget, minutes])
    solved = milp(
        -net,
        constraints=limits,
        integrality=np.ones(len(net)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    found = best_set(net, cost, time, budget, minutes)
    assert 0.995 * -solved.fun <= found.net <= round(-solved.fun) <= found.bound
    taken = list(found.positions)
    assert cost[taken].sum() <= budget
    assert time[taken].sum() <= minutes


def _brute_force(net, cost, time, budget, minutes):
    best = 0
    for size in range(1, len(net) + 1):
        for picked in itertools.combinations(range(len(net)), size):
            if sum(cost[i] for i in picked) <= budget and sum(time[i] for i in picked) <= minutes:
                best = max(best, sum(net[i] for i in picked))
    return best


@pytest.mark.parametrize("size", [*range(1, 13), 15])
def test_choice_equals_brute_force(size):
    pick = np.random.default_rng(size)
    jobs = [
        _job(str(n), float(pick.integers(0, 3000)), str(pick.integers(0, 200)), int(minutes))
        for n, minutes in enumerate(pick.integers(5, 300, size))
    ]
    budget, minutes = D(int(120 * size * 0.6)), int(150 * size * 0.4)
    worths = [worth(job, TERMS) for job in jobs]
    cents = [[int(getattr(w, part) * 100) for w in worths] for part in ("net", "cost")]
    expected = _brute_force(*cents, [job.minutes for job in jobs], int(budget * 100), minutes)
    choice = choose(jobs, TERMS, budget, minutes)
    assert choice.exact
    assert choice.net == choice.bound_net == D(expected) / 100


ITEMS = st.lists(
    st.tuples(st.integers(-50, 500), st.integers(0, 300), st.integers(0, 90)),
    min_size=1,
    max_size=9,
)


@given(ITEMS, st.integers(0, 900), st.integers(0, 300))
def test_set_equals_brute_force_at_awkward_numbers(items, budget, minutes):
    columns = list(zip(*items, strict=True))
    assert best_set(*_whole(*columns), budget, minutes).net == _brute_force(
        *columns, budget, minutes
    )


@given(ITEMS, st.integers(0, 900), st.integers(0, 300), st.integers(0, 100), st.integers(0, 50))
def test_more_money_or_time_never_nets_less(items, budget, minutes, more_money, more_time):
    columns = _whole(*zip(*items, strict=True))
    richer = best_set(*columns, budget + more_money, minutes + more_time)
    assert richer.net >= best_set(*columns, budget, minutes).net


@settings(deadline=None)
@given(st.integers(0, 10_000))
def test_large_set_never_exceeds_its_bound_or_limits(seed):
    net, cost, time, budget, minutes = _random_set(seed, 21, 40)
    found = best_set(net, cost, time, budget, minutes)
    assert found.net <= found.bound
    assert cost[list(found.positions)].sum() <= budget
    assert time[list(found.positions)].sum() <= minutes


@pytest.mark.parametrize(("budget", "minutes"), [(0, 10**6), (10**9, 0), (0, 0)])
def test_large_set_with_a_limit_of_nothing_takes_what_is_free(budget, minutes):
    count = 30
    net = np.arange(1, count + 1)
    cost = np.where(np.arange(count) < 25, 0, 50)
    free = best_set(net, cost, np.zeros(count, dtype=np.int64), budget, minutes)
    assert free.net == (net.sum() if budget else net[:25].sum())
    assert free.exact


def test_one_unit_of_sap_is_worth_what_buyers_pay():
    # Sap-buying convention, Farming Magazine: at 2.50 a pound (27.50 a gallon of 11 lb) and half
    # of the value to the seller, a gallon of 2 % sap (43 to one) is worth 0.32.
    terms = Terms(D("27.50"), D("0"), D("0.5"), (Fraction(1),))
    assert worth(_job(sap=1.0, parts="0", minutes=0), terms).value == D("0.32")


@pytest.mark.parametrize(
    ("job", "terms", "value", "cost", "net"),
    [
        # 1,000 l x (1 + 2/3 + 1/3) / 43 x 8.00 = 372.09; 50 + 1 h x 20 = 70.
        (_job(), TERMS, "372.09", "70.00", "302.09"),
        # 12 % to the landowner leaves 0.88: 327.44.
        (_job(), replace(TERMS, share_kept=D("0.88")), "327.44", "70.00", "257.44"),
        # One season only, as for a new spout: half of the three-year value.
        (_job(), replace(TERMS, yearly_gains=(Fraction(1),)), "186.05", "70.00", "116.05"),
        # 50 minutes at 20 an hour are 16.666..., rounded half-up.
        (_job(minutes=50), TERMS, "372.09", "66.67", "305.42"),
        (_job(sap=0.0), TERMS, "0.00", "70.00", "-70.00"),
    ],
)
def test_worth_by_hand(job, terms, value, cost, net):
    found = worth(job, terms)
    assert (found.value, found.cost, found.net) == (D(value), D(cost), D(net))


def test_default_gains_are_two_first_years_in_all():
    assert sum(TERMS.yearly_gains) == 2


def test_every_job_left_has_its_reason():
    jobs = [
        _job("good", 2000.0),
        _job("fair", 1000.0, minutes=90),
        _job("poor", 10.0),
        _job("huge", 90_000.0, "5000.00"),
        _job("long", 90_000.0, minutes=5000),
    ]
    choice = choose(jobs, TERMS, D("500.00"), 120)
    assert [w.job.key for w in choice.chosen] == ["good"]
    assert {w.job.key: reason for w, reason in choice.left} == {
        "fair": "others bring more",
        "poor": "costs more than it brings",
        "huge": "does not fit on its own",
        "long": "does not fit on its own",
    }
    assert (choice.cost, choice.minutes) == (D("70.00"), 60)


def test_equal_nets_go_to_the_cheaper_then_the_quicker():
    # Both pairs net 10; the second costs less, the fourth takes less time.
    assert best_set(*_whole([10, 10], [9, 8], [1, 1]), 9, 1).positions == (1,)
    assert best_set(*_whole([10, 10], [8, 8], [2, 1]), 9, 2).positions == (1,)


def test_greedy_by_net_per_cost_would_choose_worse():
    # Why every subset is weighed: the best ratio (60 for 10) shuts out the best pair.
    assert best_set(*_whole([60, 100, 120], [10, 20, 30], [0, 0, 0]), 50, 0).net == 220


def test_no_jobs_and_no_worthwhile_jobs_choose_nothing():
    assert choose([], TERMS, D("100"), 100).chosen == ()
    nothing = choose([_job(sap=0.0)], TERMS, D("100"), 100)
    assert (nothing.chosen, nothing.net, nothing.cost) == ((), 0, 0)


def test_no_hours_leave_only_jobs_that_take_none():
    jobs = [_job("ordered in", minutes=0), _job("by hand", minutes=1)]
    assert [w.job.key for w in choose(jobs, TERMS, D("500"), 0).chosen] == ["ordered in"]


def test_large_choice_says_it_is_not_exact_and_states_its_bound():
    pick = np.random.default_rng(7)
    jobs = [
        _job(str(n), float(pick.integers(900, 3000)), str(pick.integers(20, 200)), 45)
        for n in range(40)
    ]
    choice = choose(jobs, TERMS, D("1500.00"), 600)
    assert not choice.exact
    assert choice.net <= choice.bound_net <= choice.net * D("1.05")
    assert len(choice.chosen) + len(choice.left) == 40


def test_job_given_twice_is_refused():
    with pytest.raises(RepeatedJob, match="drops"):
        choose([_job(), _job()], TERMS, D("100"), 100)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: _job(sap=-1.0), "extra_sap_litres"),
        (lambda: _job(ratio=0.9), "sap_per_syrup"),
        (lambda: _job(parts="-1"), "parts_cost"),
        (lambda: _job(minutes=-1), "minutes"),
        (lambda: replace(TERMS, value_per_syrup_litre=D("NaN")), "value_per_syrup_litre"),
        (lambda: replace(TERMS, wage_per_hour=D("-1")), "wage_per_hour"),
        (lambda: replace(TERMS, share_kept=D("1.01")), "share_kept"),
        (lambda: replace(TERMS, yearly_gains=(Fraction(-1, 3),)), "yearly_gains"),
        (lambda: choose([], TERMS, D("-0.01"), 10), "budget"),
        (lambda: choose([], TERMS, D("1"), -1), "minutes"),
        (lambda: best_set(*_whole([1], [-1], [0]), 5, 5), "cost"),
        (lambda: best_set(*_whole([1], [1], [-1]), 5, 5), "time"),
    ],
)
def test_impossible_input_is_refused_by_name(make, named):
    with pytest.raises(OutOfRange, match=named):
        make()
