"""The import page with mapped lines: sheets with paths, GeoJSON and tracks; all or nothing."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError

from apps.records import actions, forms, queries, views
from apps.records.models import HandedIn
from apps.records.plan import Effect
from apps.woods.models import Line, PumpHouse, TapCount, Woodlot
from tests.factories import operation as people
from tests.factories import woods

URL = "/records/lines/import/"
EXPORT = "/records/lines/export/"
PATH = [[-75.3, 43.9], [-75.301, 43.901]]
HEAD = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
GPX_PATH = '<trkpt lat="43.9" lon="-75.3"/><trkpt lat="43.901" lon="-75.301"/>'


@pytest.fixture
def north(db):
    return woods.woodlot("North")


def look(client, text, **chosen):
    return client.post(URL, {"text": text, "step": "look"} | chosen)


def write(client, text, **chosen):
    digest = look(client, text, **chosen).context["plan"].digest
    return client.post(URL, {"text": text, "digest": digest, "step": "write"} | chosen)


def feature(label="M1", geometry=None, **properties):
    named = {"woodlot": "North", "label": label, "kind": "mainline"}
    return {"type": "Feature", "geometry": geometry, "properties": named | properties}


def collection(*features):
    return json.dumps({"type": "FeatureCollection", "features": features})


def line_string(points=PATH):
    return {"type": "LineString", "coordinates": points}


def track(name, points=GPX_PATH):
    return f"<trk><name>{name}</name><trkseg>{points}</trkseg></trk>"


def gpx(*tracks):
    return f"{HEAD}{''.join(tracks)}</gpx>"


SHEET = "woodlot,label,kind,geometry"
CSV_PATH = '"LINESTRING (-75.3 43.9, -75.301 43.901)"'


@pytest.mark.parametrize(
    "text",
    [f"{SHEET}\nNorth,M1,mainline,{CSV_PATH}", collection(feature(geometry=line_string()))],
)
def test_a_path_is_written_from_a_sheet_and_from_a_map(owner_client, north, text):
    assert write(owner_client, text).status_code == 302
    line = Line.objects.get()
    assert (line.label, line.kind, line.geometry) == ("M1", "main", PATH)


def test_the_preview_says_what_happens_to_a_path(owner_client, north):
    text = collection(feature(geometry=line_string()))
    assert "path 2 points, 450 ft on the map" in look(owner_client, text).content.decode()
    write(owner_client, text)
    page = look(owner_client, collection(feature())).content.decode()
    assert "path 2 points, 450 ft on the map → unknown" in page


def test_a_known_line_keeps_what_a_feature_leaves_out(owner_client, north):
    main = woods.line(north, "M1", length_m=120, planned_taps=7)
    woods.line(north, "L1", kind="lateral", parent=main)
    text = collection(feature(geometry=line_string()), feature("L1", kind="lateral"))
    assert write(owner_client, text).status_code == 302
    main.refresh_from_db()
    assert (main.length_m, main.geometry) == (120, PATH)
    assert Line.objects.get(label="L1").parent == main
    assert TapCount.objects.get().planned_taps == 7


def test_of_two_features_each_tells_only_its_own(owner_client, north):
    woods.line(north, "M1", length_m=120)
    woods.line(north, "M2", length_m=120)
    write(owner_client, collection(feature(length_m=None), feature("M2", length_ft=100)))
    assert Line.objects.get(label="M1").length_m is None
    assert Line.objects.get(label="M2").length_m == pytest.approx(30.48)


def test_tracks_give_known_lines_their_paths_and_make_new_ones(owner_client, north):
    woods.line(north, "M1", length_m=120, planned_taps=7)
    text = gpx(track("M1"), track("L5"))
    page = look(owner_client, text, woodlot=north.pk, kind="lateral")
    assert page.context["counts"] == [("new", 1), ("changed", 1), ("same", 0)]
    assert write(owner_client, text, woodlot=north.pk, kind="lateral").status_code == 302
    known, new = Line.objects.get(label="M1"), Line.objects.get(label="L5")
    assert (known.kind, known.length_m, known.geometry) == ("main", 120, PATH)
    assert (new.kind, new.geometry) == ("lateral", PATH)


def test_what_was_chosen_for_tracks_stands_in_the_form_that_comes_back(owner_client, north):
    text = gpx(track("1 November"))
    chosen = {"woodlot": north.pk, "kind": "dry", "label": "D1", "from_far_end": "on"}
    shown = look(owner_client, text, **chosen).context["form"]
    assert [str(shown[name].value()) for name in chosen] == [str(north.pk), "dry", "D1", "on"]
    write(owner_client, text, **chosen)
    assert Line.objects.get().geometry == PATH[::-1]


def test_tracks_of_no_woodlot_are_asked_for_one_and_stay_on_the_page(owner_client, north):
    page = look(owner_client, gpx(track("M1")))
    assert page.context["form"].errors["woodlot"] == [
        "Choose the woodlot these tracks were walked in."
    ]
    assert "&lt;name&gt;M1&lt;/name&gt;" in page.content.decode()
    assert "<details open>" in page.content.decode()


FAR = '<trkpt lat="-75.3" lon="43.9"/><trkpt lat="-75.301" lon="43.901"/>'
BAD = [
    (f"{SHEET}\nNorth,M1,mainline,M2", 2, "“M2” is no path"),
    (f"{SHEET}\nNorth,M1,mainline,{CSV_PATH.replace('43.901', '95')}", 2, "latitude of point 2"),
    (f'{SHEET}\nNorth,M1,mainline,"LINESTRING (43.9 -75.3, 43.9 -75.4)"', 2, "km from the wood"),
    (collection(feature(geometry={"type": "Point", "coordinates": [0, 0]})), 1, "not a Point"),
    (collection(feature(geometry=line_string([[0, 0], [1, 1]]))), 1, "km from the woodlot"),
    (collection(feature(), feature()), 2, "line M1 is in feature 1 already"),
    (collection(feature(parent="M9")), 1, "no line M9 in North"),
    (collection(feature(parent="M1")), 1, "makes a ring: M1 → M1"),
    (collection(feature(woodlot="West")), 1, "there is no woodlot called West"),
    (collection(feature(pump_house="Upper")), 1, "North has no pump house called Upper"),
    (collection(7), 1, "is no Feature"),
    (gpx(track("M1", FAR)), 1, "km from the woodlot; longitude comes first"),
    (gpx(track("M1", "")), 1, "2 to 2,000 points, not 0"),
    (gpx(track("M1"), track("M1")), 2, "line M1 is in track 1 already"),
    (gpx(track("")), 1, "must be the label of the line"),
]


@pytest.mark.parametrize(("text", "row", "reason"), BAD)
def test_one_bad_row_feature_or_track_is_named_and_nothing_is_written(
    owner_client, north, text, row, reason
):
    chosen = {"woodlot": north.pk, "kind": "main"}
    page = look(owner_client, text, **chosen)
    (fault,) = page.context["faults"]
    assert fault.row == row
    assert reason in fault.reason
    assert "Write these lines" not in page.content.decode()
    assert "Nothing was written" in write(owner_client, text, **chosen).content.decode()
    assert not Line.objects.exists()


def test_a_new_line_among_tracks_needs_its_kind(owner_client, north):
    woods.line(north, "M1")
    page = look(owner_client, gpx(track("M1"), track("L5")), woodlot=north.pk)
    (fault,) = page.context["faults"]
    assert (fault.row, fault.reason) == (2, "L5 is a new line: choose what kind new lines are")


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"{", "This is not GeoJSON"),
        (b"<gpx>", "The GPX file cannot be read"),
        (b"<!DOCTYPE gpx SYSTEM 'http://127.0.0.1:9/x'><gpx/>", "declares a document type"),
        (b"\xff\xfe<\x00g\x00", "not UTF-8 text"),
        ("<gpx>é".encode("latin-1"), "not UTF-8 text"),
        (b"<kml/>", "no GPX: it begins with kml"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_plain_words(owner_client, north, data, reason):
    page = owner_client.post(URL, {"sheet": SimpleUploadedFile("x", data), "step": "look"})
    assert page.status_code == 200
    assert reason in page.content.decode()


PLACED = "woodlot,label,kind,pump house,woodlot latitude,woodlot longitude,woodlot elevation (m)"


def test_a_woodlot_not_on_record_is_started_where_its_place_is_told(owner_client, db):
    text = f"{PLACED}\nHollow,M1,mainline,Lower,43.9,-75.3,400\nHollow,M2,mainline,Upper,,,"
    page = look(owner_client, text).content.decode()
    assert "Hollow at 43.9000, -75.3000, with Lower and Upper" in page
    write(owner_client, text)
    lot = Woodlot.objects.get()
    assert (lot.name, lot.latitude, lot.longitude, lot.elevation_m) == ("Hollow", 43.9, -75.3, 400)
    assert {house.name for house in PumpHouse.objects.all()} == {"Lower", "Upper"}


def test_the_place_of_a_woodlot_on_record_is_never_moved_by_a_sheet(owner_client, north):
    write(owner_client, f"{PLACED}\nNorth,M1,mainline,,44.5,-75.0,100")
    north.refresh_from_db()
    assert (north.latitude, north.longitude, north.elevation_m) == (43.9, -75.3, 400)


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ("Hollow,M1,mainline,,43.9,-75.3,", "there is no woodlot called Hollow"),
        ("Hollow,M1,mainline,,95,-75.3,400", "95 is not between -90 and 90"),
        ("Hollow,M1,mainline,,43.9,-175.3,400\nHollow,M2,mainline,,43.9,-75.3,400", "elsewhere"),
    ],
)
def test_a_place_told_by_half_or_twice_starts_no_woodlot(owner_client, db, rows, reason):
    page = look(owner_client, f"{PLACED}\n{rows}")
    assert reason in page.content.decode()
    assert "Nothing was written" in write(owner_client, f"{PLACED}\n{rows}").content.decode()
    assert not Woodlot.objects.exists()


def test_a_map_of_bare_woodlots_can_be_written_too(owner_client, db):
    at = {"type": "Point", "coordinates": [-75.3, 43.9, 400]}
    named = {"kind": "woodlot", "woodlot": "Hollow"}
    write(owner_client, collection({"type": "Feature", "geometry": at, "properties": named}))
    assert Woodlot.objects.get().name == "Hollow"


@pytest.fixture
def long_file(monkeypatch):
    """A file longer than what travels with the page."""
    monkeypatch.setattr(views, "TRAVELS_LETTERS", 100)
    return collection(feature(geometry=line_string()))


def upload(client, text):
    return client.post(URL, {"sheet": SimpleUploadedFile("x.geojson", text.encode())})


def send_kept(client, page, **chosen):
    form = page.context["form"]
    given = {"handed": form["handed"].value(), "digest": form["digest"].value() or ""}
    return client.post(URL, given | chosen)


def test_a_long_file_is_kept_aside_and_written_from_there(owner_client, north, long_file):
    page = upload(owner_client, long_file)
    assert "kept aside until tomorrow" in page.content.decode()
    assert "LineString" not in page.content.decode().split("<h2>A sheet")[0]
    assert send_kept(owner_client, page, step="write").status_code == 302
    assert Line.objects.get().geometry == PATH


def test_a_file_kept_aside_can_be_looked_at_again_and_is_kept_once(owner_client, north, long_file):
    page = upload(owner_client, long_file)
    again = send_kept(owner_client, page, step="look")
    assert again.context["counts"][0] == ("new", 1)
    assert HandedIn.objects.count() == 1


def test_a_long_file_of_tracks_without_a_woodlot_is_kept_for_the_next_try(owner_client, north):
    page = upload(owner_client, gpx(track("M1", GPX_PATH * 5000)))
    assert page.context["form"].errors["woodlot"]
    again = send_kept(owner_client, page, woodlot=north.pk, kind="main")
    assert again.context["counts"][0] == ("new", 1)


def test_nobody_writes_what_another_handed_in(owner_client, north, long_file):
    other = people.owner("sol")
    kept = actions.keep_handed_in(text=long_file, by=other, at=people.FIXED_NOW)
    page = owner_client.post(URL, {"handed": kept.pk, "step": "look"})
    assert "not kept any more" in page.content.decode()


def test_what_nobody_wrote_within_a_day_goes(owner):
    old = actions.keep_handed_in(text="old", by=owner, at=people.FIXED_NOW)
    fresh = people.FIXED_NOW + actions.KEPT_FOR
    assert actions.keep_handed_in(text="new", by=owner, at=fresh).pk
    assert queries.handed_in(old.pk, owner) == "old"
    actions.keep_handed_in(text="newer", by=owner, at=fresh + actions.KEPT_FOR / 24)
    assert queries.handed_in(old.pk, owner) == ""


def test_nothing_is_not_kept(owner):
    with pytest.raises(IntegrityError):
        HandedIn.objects.create(text="", by=owner, at=people.FIXED_NOW)


def test_a_file_over_the_limit_is_not_read(owner_client, north, monkeypatch):
    monkeypatch.setattr(forms, "LARGEST_BYTES", 10)
    assert forms.TOO_LARGE in upload(owner_client, "x" * 11).content.decode()


@pytest.mark.parametrize(
    ("asked", "kind", "name"),
    [
        ("", "text/csv; charset=utf-8", "lines-2026.csv"),
        ("?form=csv&season=2025", "text/csv; charset=utf-8", "lines-2025.csv"),
        ("?form=geojson", "application/geo+json", "lines-2026.geojson"),
        ("?form=geojson&woodlot={pk}", "application/geo+json", "north-lines-2026.geojson"),
        ("?form=gpx&woodlot={pk}", "application/gpx+xml", "north-lines-2026.gpx"),
    ],
)
def test_each_export_says_what_it_is(owner_client, north, asked, kind, name):
    response = owner_client.get(f"{EXPORT}{asked.format(pk=north.pk)}")
    assert response["Content-Type"] == kind
    assert response["Content-Disposition"] == f'attachment; filename="{name}"'
    assert response.content.startswith(b"\xef\xbb\xbf") == name.endswith(".csv")


@pytest.mark.parametrize(
    "asked", ["?form=kml", "?form=gpx", "?form=gpx&woodlot=x", "?form=gpx&woodlot=99999"]
)
def test_an_export_of_nothing_is_not_found(owner_client, north, asked):
    assert owner_client.get(f"{EXPORT}{asked}").status_code == 404


def test_a_woodlot_whose_name_fits_no_file_still_leaves_a_file(owner_client, db):
    lot = woods.woodlot("木")
    response = owner_client.get(f"{EXPORT}?form=gpx&woodlot={lot.pk}")
    assert f'filename="{lot.pk}-lines-2026.gpx"' in response["Content-Disposition"]


def test_planning_tracks_asks_the_database_as_little_as_a_sheet_does(
    north, django_assert_num_queries
):
    text = gpx(*(track(f"L{n}") for n in range(200)))
    choice = queries.TrackChoice(woodlot="North", kind="lateral")
    with django_assert_num_queries(4):
        assert queries.plan_lines(text, 2026, choice).count(Effect.NEW) == 200


@pytest.mark.parametrize("number", [10**30, -1, 0])
def test_a_number_that_no_row_has_is_no_trouble(owner_client, north, number):
    page = owner_client.post(URL, {"handed": number, "step": "look"})
    assert page.status_code == 200
    assert page.context["form"].errors["sheet"]
    assert owner_client.get(f"{EXPORT}?form=gpx&woodlot={number}").status_code == 404
