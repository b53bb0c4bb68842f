"""Which drops, spouts and lines to renew within this year's money and hours.

Formula: value = extra sap in the first year x sum of the yearly gains / sap per syrup x value of
syrup x share kept; cost = parts + minutes x wage; net = value - cost. The set of whole jobs with
the highest net is chosen whose cost is within the budget and whose minutes are within the time.
Up to 20 worthwhile jobs every subset is weighed, so the answer is exact. Beyond, jobs are taken
in the order of net per share of budget and time used, for 21 weightings of the two, and the 16
nearest calls are chosen exactly each time (the optimum in each of 300 random sets of 21-59 jobs,
which is no promise). No set at all can beat the bound given with it: the least of the 21 bounds
got by letting a part of one job be done under budget and time joined into one.
Units: litres of sap, litres of syrup, money as Decimal, minutes; money rounded half-up to cents.
Validity: no interest is charged on later years and jobs are taken not to help or hinder each
other. The gain declining by thirds over three years is common practice, no source; that standard
drops are best renewed every third year: Perkins, Maple News (story 57).
Source: value per sap is the sap-buying convention (Farming Magazine, Buying Sap). Bound: surrogate
and fractional relaxation of the knapsack, Martello and Toth, Knapsack Problems, 1990, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

import numpy as np
import numpy.typing as npt

from apps.domain.errors import DomainError, require_range

# A million subsets take a fifth of a second; each job more doubles that.
EXACT_JOBS = 20
# 65,536 subsets, small enough to repeat for every weighting.
CORE_JOBS = 16
WEIGHTINGS = 21
LARGEST_MONEY = 1e9
LARGEST_MINUTES = 10_000_000
# Stands in for no use at all of either limit, so that a ratio can be formed.
LEAST_SHARE = 1e-12

Whole = npt.NDArray[np.int64]
Share = npt.NDArray[np.float64]
Limits = tuple[int, int]
Reason = Literal["costs more than it brings", "does not fit on its own", "others bring more"]


class RepeatedJob(DomainError):
    """Two jobs under one key, which would be chosen and paid for twice."""


@dataclass(frozen=True)
class Job:
    """A whole job: done or not. extra_sap_litres is the gain in its first season."""

    key: str
    extra_sap_litres: float
    sap_per_syrup: float
    parts_cost: Decimal
    minutes: int

    def __post_init__(self) -> None:
        require_range("extra_sap_litres", self.extra_sap_litres, 0.0, 1e9)
        require_range("sap_per_syrup", self.sap_per_syrup, 1.0, 1000.0)
        require_range("parts_cost", float(self.parts_cost), 0.0, LARGEST_MONEY)
        require_range("minutes", self.minutes, 0, LARGEST_MINUTES)


@dataclass(frozen=True)
class Terms:
    """What syrup and labour are worth. share_kept is what is left after a lease's share."""

    value_per_syrup_litre: Decimal
    wage_per_hour: Decimal
    share_kept: Decimal = Decimal(1)
    yearly_gains: tuple[Fraction, ...] = (Fraction(1), Fraction(2, 3), Fraction(1, 3))

    def __post_init__(self) -> None:
        require_range("value_per_syrup_litre", float(self.value_per_syrup_litre), 0.0, 1e6)
        require_range("wage_per_hour", float(self.wage_per_hour), 0.0, 1e6)
        require_range("share_kept", float(self.share_kept), 0.0, 1.0)
        gains = np.array([float(gain) for gain in self.yearly_gains])
        require_range("yearly_gains", gains, 0.0, 10.0)


@dataclass(frozen=True)
class Worth:
    """What a job brings over its life, what it costs, and the difference."""

    job: Job
    value: Decimal
    cost: Decimal
    net: Decimal


@dataclass(frozen=True)
class Choice:
    """The jobs to do and why the others are left, each in the order given.

    exact says every subset was weighed. No other set within budget and time nets more than
    bound_net; it equals net when exact.
    """

    chosen: tuple[Worth, ...]
    left: tuple[tuple[Worth, Reason], ...]
    net: Decimal
    cost: Decimal
    minutes: int
    exact: bool
    bound_net: Decimal


@dataclass(frozen=True)
class Best:
    """Positions of the best set found, in rising order, and what no set can beat."""

    positions: tuple[int, ...]
    net: int
    bound: int
    exact: bool


def worth(job: Job, terms: Terms) -> Worth:
    """Value, cost and net of a job, to the cent."""
    # Fractions keep a third a third; only the finished sums are rounded.
    syrup_litres = Fraction(job.extra_sap_litres) * sum(terms.yearly_gains)
    syrup_litres /= Fraction(job.sap_per_syrup)
    value = _cents(
        syrup_litres * Fraction(terms.value_per_syrup_litre) * Fraction(terms.share_kept)
    )
    cost = _cents(Fraction(job.parts_cost) + Fraction(terms.wage_per_hour) * job.minutes / 60)
    return Worth(job, _money(value), _money(cost), _money(value - cost))


def choose(jobs: Sequence[Job], terms: Terms, budget: Decimal, minutes: int) -> Choice:
    """The set of whole jobs with the highest net within the budget and the crew's minutes.

    Of sets with equal net the cheapest is taken, then the quickest. Raises RepeatedJob for a key
    given twice, OutOfRange for a budget or time under zero.
    """
    require_range("budget", float(budget), 0.0, LARGEST_MONEY)
    require_range("minutes", minutes, 0, LARGEST_MINUTES)
    _require_one_of_each(jobs)
    worths = [worth(job, terms) for job in jobs]
    net, cost = (
        np.array([int(getattr(w, name) * 100) for w in worths], dtype=np.int64)
        for name in ("net", "cost")
    )
    time = np.array([job.minutes for job in jobs], dtype=np.int64)
    # Whole cents and minutes make sums and ties exact, where floats would toss a coin.
    best = best_set(net, cost, time, int(budget * 100), minutes)
    chosen = tuple(worths[position] for position in best.positions)
    left = tuple(
        (w, _reason(w, budget, minutes)) for w in worths if w.job not in {c.job for c in chosen}
    )
    return Choice(
        chosen=chosen,
        left=left,
        net=_money(best.net),
        cost=sum((w.cost for w in chosen), Decimal("0.00")),
        minutes=sum(w.job.minutes for w in chosen),
        exact=best.exact,
        bound_net=_money(best.bound),
    )


def best_set(net: Whole, cost: Whole, time: Whole, budget: int, minutes: int) -> Best:
    """The best set of whole items under two limits; three arrays of shape (items,), whole numbers.

    Exact up to 20 items that bring something and fit on their own; beyond, a good set and a bound.
    Raises OutOfRange for a cost or a time under zero.
    """
    require_range("cost", cost.astype(np.float64), 0.0, np.inf)
    require_range("time", time.astype(np.float64), 0.0, np.inf)
    # What brings nothing or cannot fit alone is in no best set, and leaves room for exactness.
    usable = np.flatnonzero((net > 0) & (cost <= budget) & (time <= minutes))
    items = (net[usable], cost[usable], time[usable])
    if len(usable) <= EXACT_JOBS:
        taken = _best_subset(*items, budget, minutes)
        total = int(items[0][taken].sum())
        return Best(tuple(usable[taken].tolist()), total, total, exact=True)
    taken, bound = _good_subset(*items, budget, minutes)
    total = int(items[0][taken].sum())
    return Best(tuple(usable[taken].tolist()), total, max(bound, total), exact=total >= bound)


def _best_subset(net: Whole, cost: Whole, time: Whole, budget: int, minutes: int) -> Whole:
    """Positions of the best of all 2^n subsets: highest net, then cheapest, then quickest."""
    costs, times = _subset_sums(cost), _subset_sums(time)
    fits = (costs <= budget) & (times <= minutes)
    nets = np.where(fits, _subset_sums(net), -1)
    ties = np.flatnonzero(nets == nets.max())
    mask = int(ties[np.lexsort((times[ties], costs[ties]))[0]])
    return np.array([bit for bit in range(len(net)) if mask >> bit & 1], dtype=np.int64)


def _subset_sums(values: Whole) -> Whole:
    """Sum of every subset, the subset's members being the bits of its position."""
    sums = np.zeros(1, dtype=np.int64)
    # Each value doubles the list: every set without it, then every set with it.
    for value in values:
        sums = np.concatenate((sums, sums + value))
    return sums


def _good_subset(
    net: Whole, cost: Whole, time: Whole, budget: int, minutes: int
) -> tuple[Whole, int]:
    """A good set and a net that no set can exceed, over all weightings of the two limits."""
    best, bound = np.zeros(0, dtype=np.int64), int(net.sum())
    for weight in np.linspace(0.0, 1.0, WEIGHTINGS):
        # A limit of zero leaves only items that use none of it, so any divisor will do.
        used = weight * cost / max(budget, 1) + (1.0 - weight) * time / max(minutes, 1)
        order = np.argsort(-net / np.maximum(used, LEAST_SHARE), kind="stable")
        bound = min(bound, _fractional_bound(net[order], used[order]))
        taken = _fill(order, cost, time, budget, minutes)
        taken = _refine(order, taken, used, (net, cost, time), (budget, minutes))
        if net[taken].sum() > net[best].sum():
            best = taken
    return np.sort(best), bound


def _fractional_bound(net: Whole, used: Share) -> int:
    """Net of filling both limits joined into one, a part of the last item allowed."""
    filled = np.cumsum(used)
    # Any set within both limits uses at most 1 of the two joined, so this can only be too high.
    whole = int(np.searchsorted(filled, 1.0, side="right"))
    total = float(net[:whole].sum())
    if whole < len(net):
        room = 1.0 - (filled[whole - 1] if whole else 0.0)
        total += float(net[whole]) * room / used[whole]
    # Upwards against rounding: a bound a cent too high is still a bound.
    return int(total * (1.0 + 1e-12)) + 1


def _fill(order: Whole, cost: Whole, time: Whole, budget: int, minutes: int) -> Whole:
    """Items taken in order while they still fit."""
    taken = []
    for position in order.tolist():
        if cost[position] <= budget and time[position] <= minutes:
            taken.append(position)
            budget, minutes = budget - int(cost[position]), minutes - int(time[position])
    return np.array(taken, dtype=np.int64)


def _refine(
    order: Whole, taken: Whole, used: Share, items: tuple[Whole, Whole, Whole], limits: Limits
) -> Whole:
    """Choose exactly among the items that are the nearest calls, the rest held as they are."""
    net, cost, time = items
    out = order[~np.isin(order, taken)]
    if not len(out):
        return taken
    # At the price of the first item left out, an item this far above or below is in or out for
    # good; the ones nearest to it might be either.
    price = net[out[0]] / max(used[out[0]], LEAST_SHARE)
    core = np.argsort(np.abs(net - price * used), kind="stable")[:CORE_JOBS]
    held = taken[~np.isin(taken, core)]
    room = limits[0] - int(cost[held].sum()), limits[1] - int(time[held].sum())
    inside = _best_subset(net[core], cost[core], time[core], *room)
    return np.concatenate((held, core[inside]))


def _reason(left: Worth, budget: Decimal, minutes: int) -> Reason:
    if left.net <= 0:
        return "costs more than it brings"
    if left.cost > budget or left.job.minutes > minutes:
        return "does not fit on its own"
    return "others bring more"


def _require_one_of_each(jobs: Sequence[Job]) -> None:
    seen: set[str] = set()
    for job in jobs:
        if job.key in seen:
            raise RepeatedJob(f"key must be given once, not again: {job.key}")
        seen.add(job.key)


def _cents(amount: Fraction) -> int:
    """Nearest whole cents, a half going up."""
    return (amount * 100 + Fraction(1, 2)).__floor__()


def _money(cents: int) -> Decimal:
    return Decimal(cents) / 100
