"""Five thousand mapped lines written from a file, and written out again.

The import reads, checks, compares with the records and writes, as the second button does; its bare
limit is one bulk insert of the same rows, made beforehand. The bare limit of the export is reading
the same rows from the database. Every round is undone, so that each starts from an empty operation.
"""

import os
from collections.abc import Callable, Iterator

from tests.bench.measure import Row, compare

LINES = 5_000
SEASON = 2026


def rows() -> Iterator[Row]:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "apps.config.settings")
    import django

    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    made = setup_databases(verbosity=0, interactive=False)
    try:
        yield from _both_ways()
    finally:
        teardown_databases(made, verbosity=0)


def _both_ways() -> Iterator[Row]:
    from apps.records import queries
    from apps.woods.models import Line, TapCount
    from tests.factories import mapped

    mapped.operation(LINES)
    texts = {form: queries.export_lines(SEASON, "us", form) for form in ("csv", "geojson")}
    for form in texts:
        yield compare(
            f"{LINES:,} mapped lines out as {form}",
            lambda form=form: queries.export_lines(SEASON, "us", form),
            "reading the same rows",
            lambda: (list(Line.objects.all()), list(TapCount.objects.values_list())),
        )
    lines, counts = list(Line.objects.all()), list(TapCount.objects.all())
    TapCount.objects.all().delete()
    Line.objects.update(parent=None)
    Line.objects.all().delete()
    for form, text in texts.items():
        yield compare(
            f"{LINES:,} mapped lines in from {form}",
            _undone(lambda text=text: _write(text)),
            "one bulk insert of the same rows",
            _undone(
                lambda: (Line.objects.bulk_create(lines), TapCount.objects.bulk_create(counts))
            ),
        )


def _write(text: str) -> None:
    from apps.records import actions, queries

    plan = queries.plan_lines(text, SEASON)
    actions.import_lines(text=text, season=SEASON, digest=plan.digest)


def _undone(work: Callable[[], object]) -> Callable[[], None]:
    from django.db import transaction

    def round_() -> None:
        with transaction.atomic():
            work()
            transaction.set_rollback(True)

    return round_
