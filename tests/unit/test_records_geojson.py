"""Lines as GeoJSON (RFC 7946): what is read, what is refused where and why, what is written."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.records.payload import LineRow, NotASheet, Place, TrackChoice, geojson, read
from tests.unit.test_records_payload import lines

PATH = [[-75.3, 43.9], [-75.301, 43.901]]
KEPT = tuple(tuple(point) for point in PATH)
NAMED = {"woodlot": "North", "label": "M1", "kind": "mainline"}


def feature(geometry=None, **properties):
    return {"type": "Feature", "geometry": geometry, "properties": NAMED | properties}


def line_string(points=PATH):
    return {"type": "LineString", "coordinates": points}


def collection(*features, **members):
    return json.dumps({"type": "FeatureCollection", "features": list(features)} | members)


def sheet(*features, **members):
    return geojson.read_features(collection(*features, **members))


def only_row(one):
    read_sheet = sheet(one)
    assert read_sheet.faults == ()
    return read_sheet.rows[1]


def only_fault(one):
    (fault,) = sheet(one).faults
    return fault.row, fault.column, fault.reason


def test_a_feature_is_a_line_with_its_path():
    assert only_row(feature(line_string())) == LineRow("North", "M1", "main", geometry=KEPT)


def test_a_line_nobody_mapped_has_no_geometry():
    assert only_row(feature()).geometry is None


@pytest.mark.parametrize(
    ("properties", "field", "value"),
    [
        ({"length_m": 120}, "length_m", 120.0),
        ({"length_ft": 100}, "length_m", 30.48),
        ({"fall_m": -2.5}, "fall_m", -2.5),
        ({"fall_ft": 10}, "fall_m", 3.048),
        ({"diameter_mm": 19.05}, "diameter_mm", 19.05),
        ({"diameter_in": 0.75}, "diameter_mm", 19.05),
        ({"walk_minutes": 12}, "walk_minutes", 12.0),
        ({"planned_taps": 7}, "planned_taps", 7),
        ({"planned_taps_2026": 7.0}, "planned_taps", 7),
        ({"installed_season": 2019}, "installed_season", 2019),
        ({"drops_installed_season": 2024}, "drops_installed_season", 2024),
        ({"parent": " M2 "}, "parent", "M2"),
        ({"pump_house": "Lower"}, "pump_house", "Lower"),
        ({"pump_house": ""}, "pump_house", None),
        ({"label": 12}, "label", "12"),
        ({"kind": "DRY"}, "kind", "dry"),
    ],
)
def test_every_property_is_read_in_the_unit_of_its_name(properties, field, value):
    expected = pytest.approx(value) if isinstance(value, float) else value
    assert getattr(only_row(feature(**properties)), field) == expected


@pytest.mark.parametrize(
    ("properties", "column", "reason"),
    [
        ({"kind": "pipe"}, "kind", "“pipe” is no kind of line"),
        ({"kind": None}, "kind", "is not there"),
        ({"kind": 7}, "kind", "“7” is no kind"),
        ({"woodlot": None}, "woodlot", "is not there"),
        ({"label": " "}, "label", "is not there"),
        ({"label": ["M1"]}, "label", "must be text"),
        ({"label": True}, "label", "must be text"),
        ({"label": 10**40}, "label", "is too large a number"),
        ({"label": "M" * 25}, "label", "is longer than 24 letters"),
        ({"label": "M\n1"}, "label", "cannot be written on a tag"),
        ({"length": 100}, "length", "must state its unit: length_m or length_ft"),
        ({"walk": 100}, "walk", "must state its unit: walk_minutes"),
        ({"length_m": "100"}, "length_m", "must be a number"),
        ({"length_m": True}, "length_m", "must be a number"),
        ({"length_m": 1e99}, "length_m", "is too large a number"),
        ({"length_m": 0}, "length_m", "0 is not between 0.01 and 50000"),
        ({"length_m": 100, "length_ft": 300}, "length_ft", "says what another property says"),
        ({"planned_taps": 2.5}, "planned_taps", "2.5 is not a whole number"),
        ({"planned_taps": -1}, "planned_taps", "-1 is not between 0 and 20000"),
        ({"planned_taps_1700": 1}, "planned_taps_1700", "1700 is not between 1900 and 2200"),
        ({"installed_season": 1800}, "installed_season", "1800 is not between"),
    ],
)
def test_a_bad_property_is_named_with_its_feature(properties, column, reason):
    row, blamed, said = only_fault(feature(**properties))
    assert (row, blamed) == (1, column)
    assert reason in said


@pytest.mark.parametrize(
    ("geometry", "reason"),
    [
        ({"type": "Point", "coordinates": [0, 0]}, "not a Point"),
        ({"type": "Polygon", "coordinates": []}, "not a Polygon"),
        ([], "an object with a type"),
        ("LINESTRING (0 0, 1 1)", "an object with a type"),
        (line_string([[0, 0]]), "2 to 2,000 points, not 1"),
        (line_string([[0, 0], [1, 91]]), "latitude of point 2"),
        (line_string([[0, 0], [1, 1, 1]]), "every point must have a height"),
        (line_string(None), "must be a list of points"),
    ],
)
def test_a_bad_geometry_is_named_with_its_feature(geometry, reason):
    row, column, said = only_fault(feature(geometry))
    assert (row, column) == (1, "geometry")
    assert reason in said


@pytest.mark.parametrize(
    ("one", "reason"),
    [
        (7, "is no Feature"),
        ({"type": "LineString"}, "is no Feature"),
        ({"type": "Feature", "geometry": None}, "has no properties"),
        ({"type": "Feature", "geometry": None, "properties": None}, "has no properties"),
    ],
)
def test_what_is_no_feature_is_named_by_its_number(one, reason):
    (fault,) = sheet(feature(), one).faults
    assert fault.row == 2
    assert reason in fault.reason


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("{", "This is not GeoJSON: .* in line 1"),
        ("[]", "is a FeatureCollection"),
        ("{}", "is a FeatureCollection"),
        (json.dumps(line_string()), "is a FeatureCollection"),
        ('{"type": "FeatureCollection"}', "has no list of features"),
        ('{"type": "FeatureCollection", "features": {}}', "has no list of features"),
        ("[" * 100_000, "nested too deeply"),
    ],
)
def test_a_file_that_is_no_collection_is_refused(text, reason):
    with pytest.raises(NotASheet, match=reason):
        geojson.read_features(text)


@pytest.mark.parametrize(
    ("crs", "taken"),
    [
        (None, True),
        ({"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}, True),
        ({"type": "name", "properties": {"name": "EPSG:4326"}}, True),
        ({"type": "name", "properties": {"name": "EPSG:32618"}}, False),
        ("local", False),
    ],
)
def test_another_coordinate_system_is_refused_and_the_same_is_not(crs, taken):
    if taken:
        assert sheet(feature(line_string()), crs=crs).rows[1].geometry == KEPT
    else:
        with pytest.raises(NotASheet, match="another coordinate system"):
            sheet(feature(line_string()), crs=crs)


def test_one_feature_alone_is_a_file_too():
    assert geojson.read_features(json.dumps(feature())).rows[1].label == "M1"


def test_what_a_feature_leaves_out_it_does_not_tell():
    read_sheet = sheet(feature(parent=None), feature(label="M2"))
    assert "parent" in read_sheet.told_of(1)
    assert "parent" not in read_sheet.told_of(2)
    assert "geometry" in read_sheet.told_of(2)


def test_properties_of_other_tools_are_left_aside_and_said():
    read_sheet = sheet(feature(stroke="#f00", fid=1), feature(label="M2", stroke="#00f"))
    assert read_sheet.faults == ()
    assert [notice[:39] for notice in read_sheet.notices] == [
        "The property “fid” of 1 feature is left",
        "The property “stroke” of 2 features is ",
    ]


def test_a_season_in_a_name_goes_with_the_file_and_two_do_not_go_together():
    assert sheet(feature(planned_taps_2025=3)).season == 2025
    assert sheet(feature(planned_taps=3)).season is None
    with pytest.raises(NotASheet, match="several seasons: 2025, 2026"):
        sheet(feature(planned_taps_2025=3), feature(label="M2", planned_taps_2026=3))


def woodlot(coordinates, kind="Point", **properties):
    geometry = {"type": kind, "coordinates": coordinates}
    named = {"kind": "woodlot", "woodlot": "North"} | properties
    return {"type": "Feature", "geometry": geometry, "properties": named}


def test_a_woodlot_says_where_it_lies():
    read_sheet = sheet(woodlot([-75.3, 43.9, 400]), feature())
    assert read_sheet.places == {"North": Place(43.9, -75.3, 400.0)}
    assert list(read_sheet.rows) == [2]


@pytest.mark.parametrize(
    ("one", "reason"),
    [
        (woodlot([-75.3, 43.9]), "a Point of longitude, latitude and elevation"),
        (woodlot([-75.3, 43.9, 400], kind="LineString"), "a Point of longitude"),
        (woodlot(None), "a Point of longitude"),
        (woodlot([-75.3, "43.9", 400]), "must be a number"),
        (woodlot([-75.3, 93.9, 400]), "93.9 is not between -90 and 90"),
        (woodlot([-75.3, 43.9, 9000]), "9000 is not between -100 and 5000"),
        (woodlot([-75.3, 43.9, 400], woodlot=""), "needs its name"),
        (woodlot([-75.3, 43.9, 400], woodlot=None), "needs its name"),
    ],
)
def test_a_woodlot_that_lies_nowhere_is_named(one, reason):
    row, _, said = only_fault(one)
    assert row == 1
    assert reason in said


def test_a_woodlot_in_two_places_is_named():
    read_sheet = sheet(woodlot([-75.3, 43.9, 400]), woodlot([-75.4, 43.9, 400]))
    assert [fault.row for fault in read_sheet.faults] == [2]


ALL = LineRow("North", "M1", "main", "Lower", "W", 7, 30.48, -1.5, 19.05, 12.0, 2019, 2024, KEPT)


def test_what_is_written_is_plain_geojson_with_its_units_named():
    written = json.loads(geojson.write_features([ALL], 2026, {"North": Place(43.9, -75.3, 400)}))
    lot, line = written["features"]
    assert lot["geometry"] == {"type": "Point", "coordinates": [-75.3, 43.9, 400]}
    assert line["geometry"] == line_string()
    assert line["properties"] == NAMED | {
        "pump_house": "Lower",
        "parent": "W",
        "planned_taps_2026": 7,
        "length_m": 30.48,
        "diameter_mm": 19.05,
        "fall_m": -1.5,
        "walk_minutes": 12.0,
        "installed_season": 2019,
        "drops_installed_season": 2024,
    }


paths = st.none() | st.just(KEPT) | st.just(((0.0, 0.0, 1.25), (1e-7, -0.5, 400.0)))


@given(st.lists(st.tuples(lines, paths), max_size=6))
def test_whatever_the_labels_a_collection_comes_back_identically(pairs):
    rows = [LineRow(**vars(row) | {"geometry": path}) for row, path in pairs]
    places = {row.woodlot: Place(43.9, -75.3, 400.125) for row in rows}
    written = geojson.write_features(rows, 2026, places)
    again = geojson.read_features(written)
    assert again.faults == again.notices == ()
    assert list(again.rows.values()) == rows
    assert again.places == places
    assert geojson.write_features(again.rows.values(), 2026, again.places) == written


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=10,
)
names = st.sampled_from(["woodlot", "label", "kind", "length_m", "planned_taps", "parent", "odd"])


@given(st.dictionaries(names, json_values), json_values)
def test_no_feature_at_all_breaks_the_reader(properties, geometry):
    one = {"type": "Feature", "geometry": geometry, "properties": properties}
    try:
        faults = sheet(one).faults
    except NotASheet:
        return
    assert all(fault.row == 1 and fault.reason for fault in faults)


def test_the_form_of_a_file_is_told_by_how_it_begins():
    assert read(f"\ufeff \n{collection(feature())}", TrackChoice()).counts == "feature"
    assert read("woodlot,label,kind\nNorth,M1,mainline", TrackChoice()).counts == "row"
