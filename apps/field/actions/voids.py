"""Taking a record back, whatever kind it is; its receipt stays."""

from collections.abc import Callable
from typing import Any

from django.db.models import Model

from apps.field import payload
from apps.field.actions.errors import Refused
from apps.field.actions.rows import Seen
from apps.field.models import Receipt
from apps.leaks import actions as leaks
from apps.leaks.models import Clearing, GaugeReading, LeakCheck, Obstruction
from apps.sugarhouse import actions as sugarhouse
from apps.sugarhouse.models import Dip
from apps.tapping import actions as tapping
from apps.tapping.models import TapPull, TapTally
from apps.woods import actions as woods
from apps.woods.models import Note

Kind = Receipt.Kind


def void(seen: Seen, body: payload.Void) -> None:
    receipt = Receipt.objects.select_related("crew").filter(uuid=body.of).first()
    if receipt is None:
        raise Refused("of", "The record never arrived: there is nothing to take back.")
    # Asked once for every kind; what each action asks of its own row besides is not undone here.
    if receipt.crew_id != seen.crew.pk and not seen.crew.is_owner:
        whose = receipt.crew.shown_name
        raise Refused("of", f"Only {whose} or an owner can take that record back.")
    if receipt.kind == Kind.VOID:
        raise Refused("of", "What was taken back stays so: save it again as a new record.")
    if receipt.kind == Kind.AFTER:
        _reading_after(receipt)
    else:
        model, take_back = BY_KIND[Kind(receipt.kind)]
        take_back(model._default_manager.get(uuid=body.of), seen)


def _reading_after(receipt: Receipt) -> None:
    check = LeakCheck.objects.get(uuid=receipt.payload["of"])
    try:
        leaks.take_back_reading_after(
            check=check, vacuum_after_kpa=float(receipt.payload["after_kpa"])
        )
    except leaks.ReadingAlreadySet as refusal:
        raise Refused("of", "That reading was taken back already.") from refusal


TakeBack = Callable[[Any, Seen], None]
BY_KIND: dict[Receipt.Kind, tuple[type[Model], TakeBack]] = {
    Kind.CHECK: (LeakCheck, lambda row, s: leaks.void_check(check=row, by=s.crew, at=s.at)),
    Kind.TALLY: (TapTally, lambda row, s: tapping.void_tally(tally=row, by=s.crew, now=s.at)),
    Kind.PULL: (TapPull, lambda row, s: tapping.void_pull(pull=row, by=s.crew, at=s.at)),
    Kind.DIP: (Dip, lambda row, s: sugarhouse.void_dip(dip=row, by=s.crew, at=s.at)),
    Kind.GAUGE: (
        GaugeReading,
        lambda row, s: leaks.void_gauge_reading(reading=row, by=s.crew, at=s.at),
    ),
    Kind.OBSTRUCTION: (
        Obstruction,
        lambda row, s: leaks.void_obstruction(obstruction=row, by=s.crew, at=s.at),
    ),
    Kind.CLEAR: (Clearing, lambda row, s: leaks.void_clearing(clearing=row, by=s.crew, at=s.at)),
    Kind.NOTE: (Note, lambda row, s: woods.void_note(note=row, by=s.crew, at=s.at)),
}
