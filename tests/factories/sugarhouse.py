"""Tanks, sap and batches for tests."""

from datetime import UTC, datetime

from apps.sugarhouse.models import Batch, BatchSap, Dip, DipPoint, SapIn, SapOut, Tank

AT = datetime(2026, 3, 15, 18, 0, tzinfo=UTC)


def tank(name="Round tank", *, shape="vertical", points=(), **fields) -> Tank:
    """A standing round tank of 1,000 mm by 1,000 mm unless told otherwise: 785.4 L."""
    defaults = {"diameter_mm": 1000.0, "height_mm": 1000.0} if shape == "vertical" else {}
    row = Tank.objects.create(name=name, shape=shape, **defaults | fields)
    DipPoint.objects.bulk_create(
        DipPoint(tank=row, depth_mm=depth_mm, litres=litres) for depth_mm, litres in points
    )
    return row


def dip(tank, *, at=AT, depth_mm=500.0, **fields) -> Dip:
    if "volume_litres" not in fields:
        fields["volume_litres"] = tank.measure().volume_litres(depth_mm)
    return Dip.objects.create(tank=tank, at=at, depth_mm=depth_mm, **fields)


def sap_in(woodlot=None, *, volume_litres=1000.0, brix=2.0, **fields) -> SapIn:
    """A load from a woodlot, or bought when none is given, none of it used yet."""
    defaults = {
        "season": 2026,
        "method": "load",
        "at": AT,
        "woodlot": woodlot,
        "seller": "" if woodlot else "Beech Hill neighbours",
        "remaining_litres": volume_litres,
    }
    return SapIn.objects.create(volume_litres=volume_litres, brix=brix, **defaults | fields)


def sap_out(sap_in, *, kind="sold", volume_litres=100.0, **fields) -> SapOut:
    """The row alone: nothing is taken off the load's remaining sap."""
    defaults = {"at": AT, "reason": "Tanker"}
    return SapOut.objects.create(
        sap_in=sap_in, kind=kind, volume_litres=volume_litres, **defaults | fields
    )


def batch(number=1, *, syrup_litres=20.0, sap=(), **fields) -> Batch:
    """A batch and the sap it used, as (sap_in, litres); remaining sap is left as it stands."""
    defaults = {"season": 2026, "boiled_at": AT, "syrup_brix": 66.0}
    row = Batch.objects.create(number=number, syrup_litres=syrup_litres, **defaults | fields)
    BatchSap.objects.bulk_create(
        BatchSap(batch=row, sap_in=source, volume_litres=litres) for source, litres in sap
    )
    return row
