"""Importing and exporting lines: look first, write all or nothing, and the same sheet back."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.records import actions, forms, queries
from apps.records.payload import KIND_WORDS, NotASheet
from apps.woods.models import Line, TapCount
from tests.factories import operation as people
from tests.factories import woods

URL = "/records/lines/import/"
HEAD = "woodlot,label,kind,parent,planned taps,length (ft)"
GOOD = f"{HEAD}\nNorth,L1,lateral,M1,7,120\nNorth,M1,mainline,,0,1000\nNorth,M2,mainline,,,\n"


@pytest.fixture
def north(db):
    return woods.woodlot("North")


def look(client, text):
    return client.post(URL, {"text": text, "step": "look"})


def write(client, text):
    digest = look(client, text).context["plan"].digest
    return client.post(URL, {"text": text, "digest": digest, "step": "write"})


def upload(client, data, name="lines.csv"):
    return client.post(URL, {"sheet": SimpleUploadedFile(name, data), "step": "look"})


def stored():
    counts = {c.line_id: c.planned_taps for c in TapCount.objects.filter(season=2026)}
    return {
        line.label: (line.kind, line.parent and line.parent.label, counts.get(line.pk))
        for line in Line.objects.select_related("parent")
    }


def exported(client, season=2026):
    return client.get(reverse("records:export_lines"), {"season": season}).content


def test_the_page_lists_the_headings_in_the_operations_units(owner_client):
    people.operation(unit_system="metric")
    page = owner_client.get(URL).content.decode()
    assert "parent,planned taps 2026,length (m),diameter (mm),fall (m)" in page


def test_looking_writes_nothing_and_says_what_is_new(owner_client, north):
    response = look(owner_client, GOOD)
    assert response.context["plan"].faults == ()
    assert response.context["counts"] == [("new", 3), ("changed", 0), ("same", 0)]
    assert "Write these lines" in response.content.decode()
    assert Line.objects.count() == 0


def test_writing_puts_every_line_in_its_place(owner_client, north):
    response = write(owner_client, GOOD)
    assert response.status_code == 302
    assert stored() == {
        "L1": ("lateral", "M1", 7),
        "M1": ("main", None, 0),
        "M2": ("main", None, None),
    }
    assert Line.objects.get(label="M1").length_m == pytest.approx(304.8)


def test_a_second_import_changes_the_same_lines_and_doubles_none(owner_client, north):
    write(owner_client, GOOD)
    changed = GOOD.replace("M1,7,120", "M2,9,120").replace("M2,mainline,,,", "M2,mainline,,0,")
    preview = look(owner_client, changed)
    assert preview.context["counts"] == [("new", 0), ("changed", 2), ("same", 1)]
    assert "parent M1 → M2; planned taps 7 → 9" in preview.content.decode()
    assert "planned taps unknown → 0" in preview.content.decode()
    write(owner_client, changed)
    assert stored()["L1"] == ("lateral", "M2", 9)
    assert stored()["M2"] == ("main", None, 0)
    assert Line.objects.count() == 3


def test_an_empty_cell_takes_a_count_away(owner_client, north):
    write(owner_client, GOOD)
    emptied = GOOD.replace("M1,7,120", ",,120")
    assert "planned taps 7 → unknown" in look(owner_client, emptied).content.decode()
    write(owner_client, emptied)
    assert stored()["L1"] == ("lateral", None, None)


def test_counts_of_other_seasons_stay(owner_client, north):
    woods.line(north, "M1", planned_taps=5, season=2025)
    write(owner_client, GOOD)
    assert TapCount.objects.get(season=2025).planned_taps == 5


def test_a_heading_may_send_the_counts_to_another_season(owner_client, north):
    write(owner_client, GOOD.replace("planned taps", "planned taps 2027"))
    assert set(TapCount.objects.values_list("season", flat=True)) == {2027}


def test_the_same_sheet_again_has_nothing_to_write(owner_client, north):
    write(owner_client, GOOD)
    page = look(owner_client, GOOD)
    assert page.context["nothing_to_do"]
    assert "Write these lines" not in page.content.decode()


BAD = [
    ("North,M1,pipe,,1,1", "row 2", "“pipe” is no kind of line"),
    ("West,M1,mainline,,1,1", "row 2", "there is no woodlot called West"),
    ("North,L1,lateral,M9,1,1", "row 2", "no line M9 in North"),
    ("North,M1,mainline,M1,1,1", "row 2", "makes a ring: M1 → M1"),
    ("North,M1,mainline,,many,1", "row 2", "“many” is not a whole number"),
    ("North,M1,mainline,,1,far", "row 2", "“far” is not a number"),
    ("North,M1,mainline,,1,1\nNorth,M1,mainline,,1,1", "row 3", "is in row 2 already"),
]


@pytest.mark.parametrize(("rows", "where", "reason"), BAD)
def test_one_bad_row_is_named_and_keeps_all_rows_out(owner_client, north, rows, where, reason):
    text = f"{HEAD}\n{rows}\nNorth,M7,mainline,,5,10"
    page = look(owner_client, text)
    (fault,) = page.context["faults"]
    assert f"row {fault.row}" == where
    assert reason in page.content.decode()
    assert "Write these lines" not in page.content.decode()


@pytest.mark.parametrize("rows", [case[0] for case in BAD])
def test_a_bad_sheet_sent_to_be_written_writes_nothing(owner_client, north, rows):
    text = f"{HEAD}\nNorth,M7,mainline,,5,10\n{rows}"
    digest = look(owner_client, text).context["plan"].digest
    page = owner_client.post(URL, {"text": text, "digest": digest, "step": "write"})
    assert "Nothing was written" in page.content.decode()
    assert Line.objects.count() == 0
    assert TapCount.objects.count() == 0


def test_what_was_handed_in_stays_on_the_page_to_be_mended(owner_client, north):
    page = upload(owner_client, f"{HEAD}\nNorth,M1,pipe,,1,1".encode())
    assert "North,M1,pipe,,1,1</textarea>" in page.content.decode()


@pytest.mark.parametrize("digest", ["", "0" * 64])
def test_only_what_was_shown_is_written(owner_client, north, digest):
    page = owner_client.post(URL, {"text": GOOD, "digest": digest, "step": "write"})
    assert "Nothing was written: the sheet or the records have changed" in page.content.decode()
    assert Line.objects.count() == 0


def test_records_that_moved_under_the_preview_ask_for_another_look(owner_client, north):
    digest = look(owner_client, GOOD).context["plan"].digest
    woods.line(north, "M1", planned_taps=44)
    page = owner_client.post(URL, {"text": GOOD, "digest": digest, "step": "write"})
    assert page.context["counts"] == [("new", 2), ("changed", 1), ("same", 0)]
    assert stored() == {"M1": ("main", None, 44)}


def test_a_failure_half_way_leaves_nothing_behind(north, monkeypatch):
    digest = queries.plan_lines(GOOD, 2026).digest

    def fail(*args):
        raise RuntimeError("power cut")

    monkeypatch.setattr(actions, "_write_taps", fail)
    with pytest.raises(RuntimeError, match="power cut"):
        actions.import_lines(text=GOOD, season=2026, digest=digest)
    assert Line.objects.count() == 0


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"\xff\xfe\x00", "not UTF-8 text"),
        (b"PK\x03\x04\x00", "not a CSV sheet, GeoJSON or GPX"),
        (b"", "Choose a file, or paste its text"),
        (b"x" * (forms.LARGEST_BYTES + 1), "larger than 20 MB"),
        (b"label,kind\nM1,mainline", "must head a column “woodlot”"),
        (HEAD.replace(" (ft)", "").encode(), "must state its unit"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_in_plain_words(owner_client, north, data, reason):
    page = upload(owner_client, data)
    assert page.status_code == 200
    assert reason in page.content.decode()


def test_text_too_large_is_refused(owner_client, north):
    page = look(owner_client, "é" * (forms.LARGEST_TEXT_BYTES // 2 + 1))
    assert "larger than 2 MB" in page.content.decode()


def test_a_byte_order_mark_and_semicolons_are_no_trouble(owner_client, north):
    data = GOOD.replace(",", ";").replace("\n", "\r\n").encode("utf-8-sig")
    assert upload(owner_client, data).context["counts"][0] == ("new", 3)


def test_text_in_a_sheet_is_never_run_as_markup(owner_client, north):
    page = look(owner_client, f"{HEAD}\nNorth,<script>,mainline,,1,1").content.decode()
    assert "<script>,main" not in page
    assert "&lt;script&gt;" in page


def test_a_crew_member_may_download_but_not_import(crew_client, north):
    refused = crew_client.post(URL, {"text": GOOD, "step": "look"})
    assert refused.status_code == 403
    assert "Only an owner can do this" in refused.content.decode()
    assert crew_client.get(reverse("records:export_lines")).status_code == 200


def test_nobody_signed_out_reads_or_writes(client, north):
    for url in [URL, reverse("records:export_lines")]:
        assert client.get(url).status_code == 302


def full_wood(lot):
    house = woods.pump_house(lot, "Lower; “old”")
    main = woods.line(
        lot, "M1", pump_house=house, planned_taps=0, length_m=304.8, fall_m=-1.0, diameter_mm=31.75
    )
    woods.line(lot, "L2", kind="lateral", parent=main, planned_taps=12, length_m=37.61232)
    woods.line(lot, "L10", kind="lateral", parent=main, walk_minutes=12.5, installed_season=2019)
    woods.line(lot, "-W, 1", kind="wet", drops_installed_season=2024, diameter_mm=100 / 3)


@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_what_is_exported_imports_as_the_same_and_exports_identically(
    owner_client, north, unit_system
):
    people.operation(unit_system=unit_system)
    full_wood(north)
    before = exported(owner_client)
    page = upload(owner_client, before)
    assert page.context["counts"] == [("new", 0), ("changed", 0), ("same", 4)]
    assert exported(owner_client) == before


@pytest.mark.parametrize("unit_system", ["us", "metric"])
def test_an_export_rebuilds_bare_woods_identically(owner_client, north, unit_system):
    people.operation(unit_system=unit_system)
    full_wood(north)
    before = exported(owner_client)
    TapCount.objects.all().delete()
    Line.objects.update(parent=None)
    Line.objects.all().delete()
    assert write(owner_client, before.decode("utf-8-sig")).status_code == 302
    assert exported(owner_client) == before


def test_an_export_in_feet_imports_into_a_metric_operation_as_the_same(owner_client, north):
    full_wood(north)
    before = exported(owner_client)
    people.operation(unit_system="metric")
    assert upload(owner_client, before).context["counts"][2] == ("same", 4)


def test_the_export_is_a_named_csv_file_of_the_season_asked_for(owner_client, north):
    woods.line(north, "M1", planned_taps=5, season=2025)
    response = owner_client.get(reverse("records:export_lines"), {"season": 2025})
    assert response["Content-Disposition"] == 'attachment; filename="lines-2025.csv"'
    head, row = response.content.decode("utf-8-sig").split("\r\n")[:2]
    assert "planned taps 2025" in head
    assert row == "North,,M1,mainline,,5,,,,,,,,43.9,-75.3,1312.335958"


@pytest.mark.parametrize("season", ["1700", "soon", "99999", "-1"])
def test_an_export_of_no_season_is_not_found(owner_client, season):
    response = owner_client.get(reverse("records:export_lines"), {"season": season})
    assert response.status_code == 404


def test_exported_lines_count_up_as_people_count(owner_client, north):
    for label in ["L10", "L2", "L1"]:
        woods.line(north, label)
    rows = exported(owner_client).decode("utf-8-sig").splitlines()[1:]
    assert [row.split(",")[2] for row in rows] == ["L1", "L2", "L10"]


def many(count):
    rows = "\n".join(f"North,L{n},lateral,M1,{n % 9},100" for n in range(count))
    return f"{HEAD}\nNorth,M1,mainline,,0,\n{rows}"


def test_looking_asks_as_little_of_a_thousand_rows_as_of_ten(
    north, django_assert_num_queries, django_assert_max_num_queries
):
    with django_assert_num_queries(4):
        queries.plan_lines(many(10), 2026)
    with django_assert_num_queries(4):
        queries.plan_lines(many(1000), 2026)


def test_a_long_preview_shows_some_rows_and_counts_all(owner_client, north):
    page = look(owner_client, many(1000))
    assert len(page.context["rows"]) == queries.SHOWN
    assert "And 801 more." in page.content.decode()


def test_many_faults_show_some_and_count_all(owner_client, north):
    page = look(owner_client, many(1000).replace("lateral", "pipe"))
    assert "1,000 things to mend" in page.content.decode()
    assert page.context["faults_more"] == 1000 - queries.SHOWN


def test_a_sheet_refused_by_the_reader_raises_on_planning_too(north):
    with pytest.raises(NotASheet):
        queries.plan_lines("label", 2026)


def test_the_kinds_a_sheet_knows_are_those_the_database_allows():
    assert set(KIND_WORDS) == set(Line.Kind.values)
    assert {kind.value: kind.label.lower() for kind in Line.Kind} == KIND_WORDS
