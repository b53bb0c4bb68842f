"""Two hands at the import page: one writes, the other is asked to look again."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from apps.records import actions, queries
from apps.woods.models import Line, TapCount
from tests.factories import woods

pytestmark = pytest.mark.django_db(transaction=True)
HEAD = "woodlot,label,kind,planned taps"


def sheet(taps):
    return "\n".join([HEAD, *(f"North,M{n},mainline,{taps}" for n in range(30))])


def write(text, digest):
    try:
        return actions.import_lines(text=text, season=2026, digest=digest)
    except actions.ImportRefused as refusal:
        return refusal
    finally:
        connection.close()


def at_once(*texts):
    """Each sheet looked at first, then all of them sent to be written at the same moment."""
    digests = [queries.plan_lines(text, 2026).digest for text in texts]
    with ThreadPoolExecutor(len(texts)) as hands:
        return list(hands.map(write, texts, digests))


def refusals(outcomes):
    return [out for out in outcomes if isinstance(out, actions.ImportRefused)]


def test_the_same_sheet_written_four_times_at_once_is_written_once():
    woods.woodlot("North")
    outcomes = at_once(*[sheet(7)] * 4)
    assert len(refusals(outcomes)) == 3
    assert (Line.objects.count(), TapCount.objects.count()) == (30, 30)


def test_of_two_sheets_that_differ_one_is_written_whole_and_the_other_not_at_all():
    woods.woodlot("North")
    outcomes = at_once(sheet(7), sheet(9))
    assert len(refusals(outcomes)) == 1
    assert len(set(TapCount.objects.values_list("planned_taps", flat=True))) == 1


def test_the_one_refused_is_shown_what_its_sheet_would_do_now():
    woods.woodlot("North")
    (late,) = refusals(at_once(sheet(7), sheet(9)))
    assert "changed since the last look" in str(late)
    assert [len(entry.changes) for entry in late.plan.entries] == [1] * 30
