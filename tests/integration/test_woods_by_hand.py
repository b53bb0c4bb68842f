"""The tree edited by hand at the desk: paths typed and cleared, branches moved, things removed."""

import json

import pytest
from django.db import connection
from django.urls import reverse

from apps.woods import actions
from apps.woods.forms import LineForm
from apps.woods.models import Landowner, Lease, Line, PumpHouse, Woodlot
from tests.factories import operation as people
from tests.factories import tapping as taps
from tests.factories import woods

PATH = [[-75.3, 43.9], [-75.301, 43.901]]
HIGH = [[-75.3, 43.9, 400.0], [-75.301, 43.901, 398.5]]
LINE = {"label": "M1", "kind": "main"}


@pytest.fixture
def lot(db):
    return woods.woodlot("North", landowner=woods.landowner())


def post(client, name, pk, **data):
    return client.post(reverse(f"woods:{name}", args=[pk]), data)


def form_page(client, line):
    return client.get(reverse("woods:line_edit", args=[line.pk]))


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        (json.dumps(PATH), PATH),
        (json.dumps(HIGH), HIGH),
        (json.dumps({"type": "LineString", "coordinates": PATH}), PATH),
        (
            json.dumps(
                {"type": "Feature", "geometry": {"type": "LineString", "coordinates": PATH}}
            ),
            PATH,
        ),
        ("", None),
        ("  ", None),
    ],
)
def test_a_path_may_be_typed_pasted_or_left_out(owner_client, lot, typed, kept):
    assert post(owner_client, "line_add", lot.pk, **LINE, geometry=typed).status_code == 302
    assert Line.objects.get().geometry == kept


@pytest.mark.parametrize("points", [PATH, HIGH])
def test_the_form_sent_back_as_it_came_changes_no_path(owner_client, lot, points):
    line = woods.line(lot, "M1", geometry=points)
    shown = form_page(owner_client, line).context["form"]["geometry"].value()
    assert json.loads(shown) == {"type": "LineString", "coordinates": points}
    post(owner_client, "line_edit", line.pk, **LINE, geometry=shown)
    line.refresh_from_db()
    assert line.geometry == points


def test_an_emptied_field_forgets_the_path(owner_client, lot):
    line = woods.line(lot, "M1", geometry=PATH)
    post(owner_client, "line_edit", line.pk, **LINE, geometry="")
    line.refresh_from_db()
    assert line.geometry is None


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("somewhere", "This is no path of a line: Expecting value in line 1."),
        ("[[-75.3, 43.9]]", "2 to 2,000 points, not 1"),
        ("[[-75.3, 43.9], [-75.3, 143.9]]", "latitude of point 2"),
        ('{"type": "Point", "coordinates": [0, 0]}', "not a Point"),
        ("[[43.9, -75.3], [43.901, -75.3]]", "km from the woodlot; longitude comes first"),
    ],
)
def test_a_path_that_cannot_be_is_refused_at_its_field_and_stays_typed(
    owner_client, lot, typed, reason
):
    line = woods.line(lot, "M1", geometry=PATH)
    response = post(owner_client, "line_edit", line.pk, **LINE, geometry=typed)
    assert reason in response.context["form"].errors["geometry"][0]
    assert response.context["form"]["geometry"].value() == typed
    line.refresh_from_db()
    assert line.geometry == PATH


@pytest.mark.parametrize("odd", ["M\x011", "M\u20281", "M\uffff1"])
def test_a_label_that_no_tag_can_show_is_refused(owner_client, lot, odd):
    response = post(owner_client, "line_add", lot.pk, label=odd, kind="main")
    assert "Holds a character that cannot be on a tag." in response.context["form"].errors["label"]


def test_lines_to_run_into_are_offered_as_people_count(lot):
    for label in ["L10", "L2", "M1"]:
        woods.line(lot, label)
    form = LineForm(woodlot=lot, season=2026, unit_system="us")
    assert [words for _, words in form.fields["parent"].choices] == [
        "no other line",
        "L2",
        "L10",
        "M1",
    ]


def test_a_branch_moves_with_all_that_runs_into_it(owner_client, lot):
    old, new = woods.line(lot, "M1"), woods.line(lot, "M2")
    branch = woods.line(lot, "M3", parent=old)
    leaf = woods.line(lot, "L1", kind="lateral", parent=branch)
    post(owner_client, "line_edit", branch.pk, label="M3", kind="main", parent=new.pk)
    branch.refresh_from_db()
    leaf.refresh_from_db()
    assert (branch.parent, leaf.parent) == (new, branch)


def test_a_branch_moved_into_its_own_is_refused_and_stays(owner_client, lot):
    main = woods.line(lot, "M1", geometry=PATH)
    leaf = woods.line(lot, "L1", kind="lateral", parent=main)
    response = post(owner_client, "line_edit", main.pk, **LINE, parent=leaf.pk, geometry="")
    assert "that would make a ring" in response.context["form"].errors["parent"][0]
    main.refresh_from_db()
    assert (main.parent, main.geometry) == (None, PATH)


REMOVALS = ["woodlot", "pump_house", "lease", "landowner"]


@pytest.fixture
def bare(lot):
    """One row of each sort on which nothing stands."""
    return {
        "woodlot": woods.woodlot("South"),
        "pump_house": woods.pump_house(lot, "Upper"),
        "lease": woods.lease(lot, landowner=lot.landowner),
        "landowner": woods.landowner("Alder Flats"),
    }


@pytest.mark.parametrize("sort", REMOVALS)
def test_what_nothing_stands_on_is_asked_about_and_then_removed(owner_client, bare, sort):
    row = bare[sort]
    url = reverse(f"woods:{sort}_remove", args=[row.pk])
    assert "Remove it" in owner_client.get(url).content.decode()
    assert type(row).objects.filter(pk=row.pk).exists()
    response = owner_client.post(url, follow=True)
    assert "is removed." in response.content.decode()
    assert not type(row).objects.filter(pk=row.pk).exists()


@pytest.mark.parametrize("sort", REMOVALS)
def test_each_form_leads_to_its_removal(owner_client, bare, sort):
    edit = owner_client.get(reverse(f"woods:{sort}_edit", args=[bare[sort].pk])).content.decode()
    assert reverse(f"woods:{sort}_remove", args=[bare[sort].pk]) in edit


@pytest.mark.parametrize("sort", REMOVALS)
def test_only_owners_remove(crew_client, bare, sort):
    assert post(crew_client, f"{sort}_remove", bare[sort].pk).status_code == 403
    assert type(bare[sort]).objects.filter(pk=bare[sort].pk).exists()


@pytest.mark.parametrize("sort", REMOVALS)
def test_what_is_gone_already_is_not_found(owner_client, bare, sort):
    assert post(owner_client, f"{sort}_remove", 99_999).status_code == 404


def refused(client, sort, row):
    page = client.post(reverse(f"woods:{sort}_remove", args=[row.pk]), follow=True)
    assert type(row).objects.filter(pk=row.pk).exists()
    assert page.request["PATH_INFO"] == reverse(f"woods:{sort}_edit", args=[row.pk])
    return page.content.decode()


def test_a_woodlot_stays_and_says_what_stands_on_it(owner_client, lot):
    woods.pump_house(lot, "Lower")
    for number in range(1, 7):
        woods.line(lot, f"M{number}")
    page = refused(owner_client, "woodlot", lot)
    assert "North stays, because this stands on it: 1 pump house (Lower); " in page
    assert "6 lines (M1, M2, M3, M4 and 2 more)." in page


def test_a_pump_house_stays_while_a_line_drains_to_it(owner_client, lot):
    house = woods.pump_house(lot, "Lower")
    woods.line(lot, "M1", pump_house=house)
    assert "Lower stays, because this stands on it: 1 line (M1)." in refused(
        owner_client, "pump_house", house
    )


def test_a_landowner_stays_while_land_or_lease_is_theirs(owner_client, lot):
    woods.lease(lot, landowner=lot.landowner)
    page = refused(owner_client, "landowner", lot.landowner)
    assert "1 lease (North: Fixed rate per counted tap); 1 woodlot (North)." in page


def test_a_line_stays_while_a_tally_stands_on_it(lot):
    people.operation()
    line = woods.line(lot, "M1")
    taps.tally(line, crew=people.crew())
    with pytest.raises(actions.StillInUse, match=r"M1 stays, .*: 1 tap tally \("):
        actions.remove_line(line=line, season=2026)


def test_a_refusal_leaves_no_half_done_work_behind(lot):
    woods.line(lot, "M1")
    before = [model.objects.count() for model in (Woodlot, Line, PumpHouse, Lease, Landowner)]
    with pytest.raises(actions.StillInUse):
        actions.remove_woodlot(woodlot=lot)
    assert before == [
        model.objects.count() for model in (Woodlot, Line, PumpHouse, Lease, Landowner)
    ]
    assert not connection.needs_rollback
