"""Tracks of GPX 1.1 (schema of Foster, 2004): read as lines, hostile files refused, and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.line_path import MOST_POINTS
from apps.records.payload import LineRow, NotASheet, NoWoodlotChosen, TrackChoice, gpx, read
from tests.unit.test_records_payload import words

NORTH = TrackChoice(woodlot="North", kind="main")
KEPT = ((-75.3, 43.9), (-75.301, 43.901))
HIGH = ((-75.3, 43.9, 401.2), (-75.301, 43.901, 399.0))
HEAD = '<gpx version="1.1" creator="a phone" xmlns="http://www.topografix.com/GPX/1/1">'


def point(lon, lat, *height):
    inside = f"<ele>{height[0]}</ele><time>2026-11-01T12:00:00Z</time>" if height else ""
    return f'<trkpt lat="{lat}" lon="{lon}">{inside}</trkpt>'


def segment(points=KEPT):
    return f"<trkseg>{''.join(point(*one) for one in points)}</trkseg>"


def track(name="M1", *segments, more=""):
    named = f"<name>{name}</name>" if name is not None else ""
    return f"<trk>{named}{more}{''.join(segments or [segment()])}</trk>"


def tracks(*written, choice=NORTH, head=HEAD):
    return gpx.read_tracks(f"{head}{''.join(written)}</gpx>", choice)


def only_row(*written, choice=NORTH):
    sheet = tracks(*written, choice=choice)
    assert sheet.faults == ()
    return sheet.rows[1]


def only_fault(*written, choice=NORTH):
    (fault,) = tracks(*written, choice=choice).faults
    return fault.row, fault.column, fault.reason


def test_a_track_is_the_line_of_its_name_in_the_woodlot_chosen():
    assert only_row(track()) == LineRow("North", "M1", "main", geometry=KEPT)


def test_heights_are_kept_and_times_are_not_looked_at():
    assert only_row(track("M1", segment(HIGH))).geometry == HIGH


@pytest.mark.parametrize(
    "head",
    [
        '<?xml version="1.0" encoding="UTF-8"?>' + HEAD,
        '<?xml version="1.0" encoding="ISO-8859-1"?>' + HEAD,
        '<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">',
        "<gpx>",
        '<g:gpx xmlns:g="http://www.topografix.com/GPX/1/1" xmlns="urn:other">',
    ],
)
def test_older_and_barer_files_are_read_the_same(head):
    written = track("Érable")
    if head.startswith("<g:"):
        written = written.replace("</", "</g:").replace("<t", "<g:t").replace("<n", "<g:n")
        text = f"{head}{written}</g:gpx>"
    else:
        text = f"{head}{written}</gpx>"
    assert gpx.read_tracks(text, NORTH).rows[1].label == "Érable"


def test_segments_are_joined_in_their_order_and_said_so():
    sheet = tracks(track("M1", segment(KEPT[:1]), segment(KEPT[1:])))
    assert sheet.rows[1].geometry == KEPT
    assert sheet.notices == ("Track 1, M1: its 2 segments are joined in their order.",)


def test_a_height_that_some_points_lack_is_kept_for_none_and_said_so():
    sheet = tracks(track("M1", segment([HIGH[0], KEPT[1]])))
    assert sheet.rows[1].geometry == KEPT
    assert "some points have no height" in sheet.notices[0]


def test_a_track_walked_from_the_far_end_is_turned_round():
    choice = TrackChoice(woodlot="North", kind="main", from_far_end=True)
    assert only_row(track(), choice=choice).geometry == KEPT[::-1]


def test_one_label_may_stand_for_the_name_of_one_track():
    choice = TrackChoice(woodlot="North", kind="main", label="L7")
    assert only_row(track("1 Nov, 09:12"), choice=choice).label == "L7"
    with pytest.raises(NotASheet, match="One label cannot stand for 2 tracks"):
        tracks(track("a"), track("b"), choice=choice)


@pytest.mark.parametrize(
    ("chosen", "type_said", "kind"),
    [
        ("main", "", "main"),
        ("", "lateral", "lateral"),
        ("", " Wet Conductor ", "wet"),
        ("dry", "lateral", "dry"),
        ("", "hiking", ""),
        ("", "", ""),
    ],
)
def test_what_a_new_line_is_comes_from_the_choice_or_else_from_the_file(chosen, type_said, kind):
    choice = TrackChoice(woodlot="North", kind=chosen)
    more = f"<type>{type_said}</type>" if type_said else ""
    assert only_row(track("M1", more=more), choice=choice).kind == kind


def test_a_track_tells_its_path_alone_of_a_line_on_record():
    sheet = tracks(track())
    assert sheet.told_of(1) == {"geometry"}
    assert sheet.told_if_new == {"kind"}
    assert sheet.counts == "track"


@pytest.mark.parametrize(
    ("written", "column", "reason"),
    [
        (track(None), "name", "is empty; it must be the label"),
        (track("  "), "name", "is empty"),
        (track("M" * 25), "name", "is longer than 24 letters"),
        (track("M\n1"), "name", "cannot be written on a tag"),
        (track("M1", "<trkseg/>"), "trkpt", "2 to 2,000 points, not 0"),
        (track("M1", segment(KEPT[:1])), "trkpt", "2 to 2,000 points, not 1"),
        (track("M1", segment([KEPT[0]] * 9)), "trkpt", "all its points are one place"),
        (track("M1", segment([KEPT[0], (0, 91)])), "trkpt", "latitude of point 2"),
        (track("M1", segment([(*KEPT[0], -9999), HIGH[1]])), "trkpt", "elevation_m of point 1"),
        (track("M1", segment([("x", 1)])), "trkpt", "“x” is not a number"),
        (track("M1", segment([("nan", 1)])), "trkpt", "“nan” is not a number"),
        (track("M1", segment([(*KEPT[0], "high")])), "trkpt", "“high” is not a number"),
        (track("M1", '<trkseg>\n<trkpt lat="1"/></trkseg>'), "trkpt", "no lon (line 2 of the"),
    ],
)
def test_a_bad_track_is_named_by_its_number(written, column, reason):
    row, blamed, said = only_fault(track("M9"), written)
    assert (row, blamed) == (2, column)
    assert reason in said


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (HEAD, "cannot be read: no element found"),
        (f"{HEAD}<trk></gpx>", "cannot be read: mismatched tag: line 1"),
        (f"{HEAD}\n&nbsp;</gpx>", "cannot be read: undefined entity: line 2"),
        (f"{HEAD}\x01</gpx>", "cannot be read: not well-formed"),
        (f"{HEAD}</gpx>", "no track in this file"),
        (f'{HEAD}<wpt lat="1" lon="1"/><rte><rtept lat="1" lon="1"/></rte></gpx>', "no track"),
        (f"{HEAD}<extensions>{track()}</extensions></gpx>", "no track"),
        ("<kml><trk/></kml>", "no GPX: it begins with kml"),
        ("<html>", "no GPX: it begins with html"),
    ],
)
def test_a_file_that_is_no_gpx_is_refused(text, reason):
    with pytest.raises(NotASheet, match=reason):
        gpx.read_tracks(text, NORTH)


def tenfold(level):
    """An entity of ten of the one below it: nineteen levels up it would fill every memory."""
    ten = f"&a{level - 1};" * 10
    return f'<!ENTITY a{level} "{ten}">'


BILLION = "".join(tenfold(level) for level in range(1, 20))
HOSTILE = {
    "billion laughs": f'<!DOCTYPE gpx [<!ENTITY a0 "ha">{BILLION}]>',
    "quadratic": f"<!DOCTYPE gpx [<!ENTITY a '{'x' * 100_000}'>]>",
    "a file of this machine": '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]>',
    "another machine": '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/evil.dtd">',
    "public": '<!DOCTYPE gpx PUBLIC "-//x//y" "http://127.0.0.1:9/evil.dtd">',
    "parameter": '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "http://127.0.0.1:9/p">%p;]>',
    "defaults": '<!DOCTYPE gpx [<!ATTLIST trkpt lat CDATA "1">]>',
    "empty": "<!DOCTYPE gpx>",
}


@pytest.mark.parametrize("declared", HOSTILE.values(), ids=HOSTILE)
def test_a_document_type_is_refused_before_anything_in_it_is_read(declared):
    text = f'<?xml version="1.0"?>{declared}{HEAD}{track("&a;&a19;")}</gpx>'
    with pytest.raises(NotASheet, match="declares a document type"):
        gpx.read_tracks(text, NORTH)


def test_no_entity_is_known_but_those_of_xml_itself():
    assert only_row(track("&lt;&amp;&gt;&quot;&apos;&#x31;")).label == "<&>\"'1"
    with pytest.raises(NotASheet, match="undefined entity"):
        tracks(track("&a;"))


def test_a_document_type_further_down_is_no_xml_at_all():
    with pytest.raises(NotASheet, match="cannot be read"):
        tracks(track(), "<!DOCTYPE gpx>")


def test_files_of_nothing_but_depth_or_attributes_end_in_a_plain_refusal():
    deep = f"{HEAD}{'<a>' * 50_000}{'</a>' * 50_000}</gpx>"
    attributes = " ".join(f'a{n}="1"' for n in range(20_000))
    wide = f"<gpx {attributes}></gpx>"
    for text in (deep, wide):
        with pytest.raises(NotASheet, match="no track"):
            gpx.read_tracks(text, NORTH)


def test_tracks_without_a_woodlot_ask_for_one_at_its_field():
    with pytest.raises(NoWoodlotChosen, match="Choose the woodlot") as refusal:
        read(f"{HEAD}{track()}</gpx>", TrackChoice())
    assert refusal.value.field == "woodlot"


def walk(count, jitter):
    """A walk of `count` points, each metres long, swaying to both sides by `jitter` degrees."""
    return [(-75.3 + n * 1e-6, 43.9 + (n % 2) * jitter) for n in range(count)]


def test_the_most_points_a_line_may_have_are_all_kept():
    row = only_row(track("M1", segment(walk(MOST_POINTS, 1e-6))))
    assert len(row.geometry) == MOST_POINTS


def test_a_longer_track_is_thinned_and_says_by_how_much():
    sheet = tracks(track("M1", segment(walk(5000, 1e-5))))
    assert len(sheet.rows[1].geometry) == MOST_POINTS
    assert sheet.rows[1].geometry[0] == (-75.3, 43.9)
    (notice,) = sheet.notices
    assert "of its 5,000 points 2,000 are kept" in notice
    assert "more than 1.1 m off" in notice


def test_a_wrong_point_of_a_long_track_is_named_and_never_thinned_away():
    points = walk(5000, 1e-5)
    points[4321] = (-75.3, 91)
    assert "latitude of point 4322" in only_fault(track("M1", segment(points)))[2]


def test_a_track_that_is_no_line_any_more_is_refused(monkeypatch):
    monkeypatch.setattr(gpx, "MOST_WALKED", 4999)
    assert "more than 4,999 points" in only_fault(track("M1", segment(walk(5000, 0))))[2]


def row(label="M1", kind="main", geometry=KEPT):
    return LineRow("North", label, kind, geometry=geometry)


def test_what_is_written_has_the_elements_of_the_standard_in_its_order():
    written = gpx.write_tracks([row(geometry=HIGH)], "North & <South>")
    assert written == (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="Thawline" xmlns="http://www.topografix.com/GPX/1/1">\n'
        "<metadata><name>North &amp; &lt;South&gt;</name></metadata>\n"
        "<trk><name>M1</name><type>mainline</type><trkseg>\n"
        '<trkpt lat="43.9" lon="-75.3"><ele>401.2</ele></trkpt>\n'
        '<trkpt lat="43.901" lon="-75.301"><ele>399</ele></trkpt>\n'
        "</trkseg></trk>\n</gpx>\n"
    )


def test_a_line_nobody_mapped_has_no_track():
    assert "<trk>" not in gpx.write_tracks([row(geometry=None)], "North")


rows = st.builds(
    row,
    label=words,
    kind=st.sampled_from(["wet", "dry", "main", "lateral"]),
    geometry=st.sampled_from([KEPT, HIGH, ((0.0, 1e-7), (-180.0, 90.0))]),
)


@given(st.lists(rows, min_size=1, max_size=6))
def test_whatever_the_labels_tracks_come_back_identically(written):
    text = gpx.write_tracks(written, "North")
    again = gpx.read_tracks(text, TrackChoice(woodlot="North"))
    assert (again.faults, again.notices) == ((), ())
    assert list(again.rows.values()) == written
    assert gpx.write_tracks(again.rows.values(), "North") == text


@given(st.text())
def test_no_text_at_all_breaks_the_reader(text):
    try:
        sheet = gpx.read_tracks(f"{HEAD}<trk><name>{text}</name>{segment()}</trk></gpx>", NORTH)
    except NotASheet:
        return
    assert all(fault.reason for fault in sheet.faults)
