"""Out, into an empty operation, and out again: the same file to the last letter."""

import time

import pytest

from apps.records import actions, queries
from apps.records.payload import TrackChoice
from apps.records.plan import Effect
from apps.woods.models import Line, PumpHouse, TapCount, Woodlot
from tests.factories import mapped, woods

pytestmark = pytest.mark.django_db
SEASON = 2026
MANY = 5_000


def written(text, tracks=None):
    plan = queries.plan_lines(text, SEASON, tracks)
    assert plan.faults == ()
    return actions.import_lines(text=text, season=SEASON, digest=plan.digest, tracks=tracks)


def counts():
    return [model.objects.count() for model in (Woodlot, PumpHouse, Line, TapCount)]


@pytest.mark.parametrize("form", ["csv", "geojson"])
@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_five_thousand_lines_into_an_empty_operation_come_out_identically(form, unit_system):
    mapped.operation(MANY)
    before = counts()
    out = queries.export_lines(SEASON, unit_system, form)
    mapped.clear()
    assert counts() == [0, 0, 0, 0]
    assert written(out).count(Effect.NEW) == MANY
    assert counts() == before
    assert queries.export_lines(SEASON, unit_system, form) == out


def test_five_thousand_lines_take_seconds_and_not_minutes():
    mapped.operation(MANY)
    out = queries.export_lines(SEASON, "us", "geojson")
    mapped.clear()
    start = time.perf_counter()
    written(out)
    # Nowhere near it on a quiet machine; `make bench` gives the ratio to a bare insert.
    assert time.perf_counter() - start < 60


def paths():
    mapped_lines = Line.objects.exclude(geometry=None)
    return {(line.woodlot.name, line.label): line.geometry for line in mapped_lines}


def test_tracks_of_five_thousand_lines_bring_back_every_path_and_label():
    mapped.operation(MANY)
    before = paths()
    out = {
        lot: queries.export_lines(SEASON, "us", "gpx", lot)
        for lot in Woodlot.objects.order_by("pk")
    }
    Line.objects.update(geometry=None)
    for lot, text in out.items():
        written(text, TrackChoice(woodlot=lot.name))
        assert queries.export_lines(SEASON, "us", "gpx", lot) == text
    assert paths() == before
    assert len(before) > MANY // 2


def test_tracks_make_the_lines_of_a_bare_woodlot_with_their_kinds():
    mapped.operation(100)
    lot = Woodlot.objects.get(name="North")
    text = queries.export_lines(SEASON, "us", "gpx", lot)
    kinds = {(k.label, k.kind) for k in lot.lines.exclude(geometry=None)}
    mapped.clear()
    lot = woods.woodlot("North")
    written(text, TrackChoice(woodlot="North"))
    assert {(line.label, line.kind) for line in lot.lines.all()} == kinds
    assert queries.export_lines(SEASON, "us", "gpx", lot) == text


@pytest.mark.parametrize("form", ["csv", "geojson"])
def test_a_file_sent_back_as_it_came_has_nothing_to_write(form):
    mapped.operation(60)
    plan = queries.plan_lines(queries.export_lines(SEASON, "us", form), SEASON)
    assert plan.faults == ()
    assert plan.woodlots == ()
    assert plan.count(Effect.SAME) == 60


@pytest.mark.parametrize(("first", "second"), [("csv", "geojson"), ("geojson", "csv")])
def test_a_file_of_one_form_imports_as_the_same_after_one_of_the_other(first, second):
    mapped.operation(60)
    out = queries.export_lines(SEASON, "us", first)
    other = queries.export_lines(SEASON, "us", second)
    mapped.clear()
    written(out)
    assert queries.plan_lines(other, SEASON).count(Effect.SAME) == 60


@pytest.mark.parametrize("form", ["csv", "geojson"])
def test_one_woodlot_is_exported_alone(form):
    mapped.operation(60)
    lot = Woodlot.objects.get(name="North")
    out = queries.export_lines(SEASON, "us", form, lot)
    plan = queries.plan_lines(out, SEASON)
    assert {entry.line.woodlot for entry in plan.entries} == {"North"}
    assert plan.count(Effect.SAME) == 12


def test_a_path_written_past_the_forms_comes_out_rounded_and_then_stays():
    lot = woods.woodlot("North")
    woods.line(lot, "M1", geometry=[[-75.30000000049, 43.9], [-75, 44]])
    out = queries.export_lines(SEASON, "us", "csv")
    assert "LINESTRING (-75.3 43.9, -75 44)" in out
    written(out)
    assert queries.export_lines(SEASON, "us", "csv") == out
    assert Line.objects.get().geometry == [[-75.3, 43.9], [-75.0, 44.0]]
