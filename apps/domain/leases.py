"""What is owed to a landowner for a season, with every line of the arithmetic.

Formula: fixed rent = taps x rate. Indexed: the rate is rate then x index now / index then, rounded
half-up to the cent, then as fixed. A floor pays for at least a share of a base count at the same
rate; a share of gross takes recorded sales plus unsold syrup at the stated bulk price. A cap
limits the rent, after the floor. Syrup already given is deducted at its agreed price.
Units: money in the operation's currency, Decimal, rounded half-up to the cent line by line, so
that the printed lines add up to what is due; taps are tapholes, not trees.
Validity: reproduces a lease's own terms and no more: it does not say what is fair, lawful or
taxable, which the lease and an adviser decide. The floor's taps are not rounded; its rent is.
Rent on planned taps, and unsold syrup at an assumed price, are marked provisional.
Source: rate x taps and share of gross (12 % standard since 2020): UVM Extension, Maple Rental
Rate page. Index ratio: US Bureau of Labor Statistics, Using the Consumer Price Index for
Escalation, 1989. Order of floor and cap, and deduction in kind: common practice, no source.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from apps.domain.errors import DomainError, OutOfRange, require_range

CENT = Decimal("0.01")
LARGEST_MONEY = 1e9
LARGEST_COUNT = 10_000_000


class NotDecimal(DomainError):
    """Money or a term of a lease given as something other than a Decimal."""

    def __init__(self, name: str, value: object) -> None:
        super().__init__(f"{name} must be a Decimal, not {type(value).__name__} {value!r}")


class TermsConflict(DomainError):
    """Terms that cannot stand in one lease."""


class MissingFact(DomainError):
    """The lease's rule asks for something that was not recorded."""


@dataclass(frozen=True)
class TapCount:
    """Taps the rent goes by: counted in the woods, or only planned and then said so."""

    taps: int
    basis: Literal["counted", "planned"] = "counted"

    def __post_init__(self) -> None:
        require_range("taps", self.taps, 0, LARGEST_COUNT)


@dataclass(frozen=True)
class FixedPerTap:
    """A rate for each tap, the same every year."""

    rate: Decimal

    def __post_init__(self) -> None:
        _require_decimal("rate", self.rate, 0, LARGEST_MONEY)


@dataclass(frozen=True)
class IndexedPerTap:
    """A rate for each tap that follows a published index, such as a consumer price index."""

    rate_then: Decimal
    index_then: Decimal
    index_now: Decimal

    def __post_init__(self) -> None:
        _require_decimal("rate_then", self.rate_then, 0, LARGEST_MONEY)
        _require_decimal("index_then", self.index_then, 0.001, LARGEST_MONEY)
        _require_decimal("index_now", self.index_now, 0.001, LARGEST_MONEY)

    @property
    def rate(self) -> Decimal:
        """This year's rate, rounded half-up to the cent."""
        # Before the taps are counted: a rate is agreed and told in whole cents.
        return to_cents(self.rate_then * self.index_now / self.index_then)


@dataclass(frozen=True)
class ShareOfGross:
    """A share of what the woodlot's syrup brought, as 0.12 for 12 %."""

    share: Decimal

    def __post_init__(self) -> None:
        _require_decimal("share", self.share, 0, 1)


@dataclass(frozen=True)
class Floor:
    """The rent is paid on at least this share of a base count of taps."""

    share: Decimal
    base_taps: int

    def __post_init__(self) -> None:
        _require_decimal("floor share", self.share, 0, 1)
        require_range("base_taps", self.base_taps, 0, LARGEST_COUNT)


@dataclass(frozen=True)
class Lease:
    """The terms: one rule, and where agreed a floor (taps only) and a cap on the rent."""

    rule: FixedPerTap | IndexedPerTap | ShareOfGross
    floor: Floor | None = None
    cap: Decimal | None = None

    def __post_init__(self) -> None:
        # A floor is a count of taps, and a share of gross has none.
        if self.floor is not None and isinstance(self.rule, ShareOfGross):
            raise TermsConflict("floor must go with a rate per tap, not with a share of gross")
        if self.cap is not None:
            _require_decimal("cap", self.cap, 0, LARGEST_MONEY)


@dataclass(frozen=True)
class Sale:
    """Money recorded for the woodlot's syrup."""

    label: str
    amount: Decimal

    def __post_init__(self) -> None:
        _require_decimal("sale amount", self.amount, 0, LARGEST_MONEY)


@dataclass(frozen=True)
class SyrupAt:
    """A quantity of syrup at a price for one unit of it, both in the unit the lease names."""

    label: str
    quantity: Decimal
    unit: str
    price_per_unit: Decimal

    def __post_init__(self) -> None:
        _require_decimal("quantity", self.quantity, 0, LARGEST_MONEY)
        _require_decimal("price_per_unit", self.price_per_unit, 0, LARGEST_MONEY)


@dataclass(frozen=True)
class SeasonFacts:
    """What the season recorded. None is "not recorded", which a rule that needs it refuses."""

    taps: TapCount | None = None
    sales: tuple[Sale, ...] | None = None
    unsold: tuple[SyrupAt, ...] = ()
    in_kind: tuple[SyrupAt, ...] = ()


@dataclass(frozen=True)
class Line:
    """One line: words, the sum in figures as retyped into a calculator, and what it adds.

    amount is None for a line that only works out a rate or the gross.
    """

    label: str
    arithmetic: str
    amount: Decimal | None


@dataclass(frozen=True)
class Statement:
    """A season's statement. due is rent less syrup in kind, and under zero when in credit."""

    lines: tuple[Line, ...]
    rent: Decimal
    in_kind: Decimal
    due: Decimal
    provisional: tuple[str, ...]


def to_cents(amount: Decimal) -> Decimal:
    """An amount rounded half-up to the cent."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def statement(lease: Lease, facts: SeasonFacts) -> Statement:
    """What is due for the season, and how it comes about.

    Raises MissingFact when the rule needs taps or sales that were not recorded.
    """
    if isinstance(lease.rule, ShareOfGross):
        lines, provisional = _gross_lines(lease.rule, facts)
    else:
        lines, provisional = _tap_lines(lease.rule, lease.floor, facts)
    # The cap comes after the floor and before syrup in kind, which pays the rent, not lowers it.
    lines += _cap_lines(lease.cap, _total(lines))
    rent = _total(lines)
    given = [_given_line(syrup) for syrup in facts.in_kind]
    # More syrup than rent is a credit, to be settled by the two and not cut to nothing here.
    due = rent + _total(given)
    return Statement((*lines, *given), rent, -_total(given), due, tuple(provisional))


def _tap_lines(
    rule: FixedPerTap | IndexedPerTap, floor: Floor | None, facts: SeasonFacts
) -> tuple[list[Line], list[str]]:
    if facts.taps is None:
        raise MissingFact("taps must be recorded for a rent per tap, not left out")
    lines = _rate_lines(rule)
    # Shown as counted rent even where a floor lifts it, so the count can be disputed by itself.
    rent = to_cents(facts.taps.taps * rule.rate)
    words = f"Rent on taps {facts.taps.basis}"
    lines.append(Line(words, f"{facts.taps.taps} x {rule.rate} = {rent}", rent))
    if floor is not None:
        lines += _floor_lines(floor, rule.rate, rent)
    planned = facts.taps.basis == "planned"
    return lines, ["taps are planned, not counted"] if planned else []


def _rate_lines(rule: FixedPerTap | IndexedPerTap) -> list[Line]:
    if isinstance(rule, FixedPerTap):
        return []
    figures = f"{rule.rate_then} x {rule.index_now} / {rule.index_then} = {rule.rate}"
    return [Line("Rate per tap by the index, rounded half-up to the cent", figures, None)]


def _floor_lines(floor: Floor, rate: Decimal, rent: Decimal) -> list[Line]:
    least = to_cents(floor.share * floor.base_taps * rate)
    # A floor that does not bind is left off: a line of nothing invites a question.
    if least <= rent:
        return []
    figures = f"{floor.share} x {floor.base_taps} x {rate} - {rent} = {least - rent}"
    return [Line("Brought up to the floor of the base count", figures, least - rent)]


def _gross_lines(rule: ShareOfGross, facts: SeasonFacts) -> tuple[list[Line], list[str]]:
    if facts.sales is None:
        raise MissingFact("sales must be recorded for a share of gross, not left out")
    amounts = [sale.amount for sale in facts.sales]
    lines = [Line(f"Sold: {sale.label}", f"{sale.amount}", None) for sale in facts.sales]
    for syrup in facts.unsold:
        worth = _worth(syrup)
        amounts.append(worth)
        words = f"Unsold, provisional: {syrup.label}, per {syrup.unit}"
        lines.append(Line(words, _product(syrup, worth), None))
    gross = sum(amounts, Decimal("0.00"))
    lines.append(Line("Gross", f"{' + '.join(map(str, amounts)) or '0'} = {gross}", None))
    rent = to_cents(rule.share * gross)
    lines.append(Line("Share of gross", f"{rule.share} x {gross} = {rent}", rent))
    # An empty shelf at an assumed price assumes nothing.
    unsold = any(syrup.quantity for syrup in facts.unsold)
    return lines, ["unsold syrup is valued at the stated bulk price"] if unsold else []


def _cap_lines(cap: Decimal | None, rent: Decimal) -> list[Line]:
    if cap is None or rent <= to_cents(cap):
        return []
    over = to_cents(cap) - rent
    return [Line("Brought down to the cap", f"{to_cents(cap)} - {rent} = {over}", over)]


def _given_line(syrup: SyrupAt) -> Line:
    worth = _worth(syrup)
    words = f"Less syrup in kind: {syrup.label}, per {syrup.unit}"
    return Line(words, _product(syrup, worth), -worth)


def _worth(syrup: SyrupAt) -> Decimal:
    return to_cents(syrup.quantity * syrup.price_per_unit)


def _product(syrup: SyrupAt, worth: Decimal) -> str:
    return f"{syrup.quantity} x {syrup.price_per_unit} = {worth}"


def _total(lines: list[Line]) -> Decimal:
    amounts = (line.amount for line in lines if line.amount is not None)
    return sum(amounts, Decimal("0.00"))


def _require_decimal(name: str, value: Decimal, low: float, high: float) -> None:
    # A float would carry its binary dust into a statement that must reproduce to the cent.
    if not isinstance(value, Decimal):
        raise NotDecimal(name, value)
    # Compared as a Decimal, so that a hair over a limit is not rounded onto it.
    if not value.is_finite() or not Decimal(str(low)) <= value <= Decimal(str(high)):
        raise OutOfRange(name, float(value), low, high)
