"""The paper form and its twin on the desk: same lines, same order, all rows or none, once."""

import re
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from apps.field import paper
from apps.field.actions import paper as actions
from apps.field.actions.paper import SheetRefused, SheetRow, record_sheet
from apps.leaks.models import Cause, Leak, LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people

pytestmark = pytest.mark.django_db
# What stands on a printed sheet stays true: a new cause may only be added at the end.
PRINTED_CAUSES = ["chew", "limb", "spout", "saddle", "fitting", "tee", "sag", "deer", "unknown"]


@pytest.fixture
def lot(db):
    lot = woods.woodlot("Home Hill")
    for number in (1, 2, 3, 10):
        woods.line(lot, f"L{number}", planned_taps=100)
    return lot


@pytest.fixture
def line(lot):
    return {row.label: row for row in lot.lines.all()}


@pytest.fixture
def entry(crew_client, lot, crew):
    """Type rows in and send them, as the page would."""

    def send(rows, *, sheet=None, follow=True, **head):
        typed = {"walked_on": "2026-03-15", "walked_at": "14:30", "crew": crew.pk}
        typed |= {"sheet": str(sheet or uuid4())} | head
        by_label = {row.label: row.pk for row in lot.lines.all()}
        for label, fields in rows.items():
            given = {"state": fields} if isinstance(fields, str) else fields
            typed |= {f"line{by_label[label]}-{name}": value for name, value in given.items()}
        return crew_client.post(reverse("field:paper_entry", args=[lot.pk]), typed, follow=follow)

    return send


def states():
    return dict(LeakCheck.objects.values_list("line__label", "state"))


def shown(client, name, lot, **asked):
    return client.get(reverse(f"field:{name}", args=[lot.pk]), asked)


def labels(text):
    return re.findall(r'<th scope="row">(\w+)', text)


@pytest.mark.parametrize("order", ["walk", "label"])
def test_the_page_has_the_lines_of_the_paper_in_its_order(crew_client, lot, line, order):
    leaks.check(line["L3"], "leak_left", vacuum_before_kpa=40.0)
    leaks.check(line["L2"], "leak_left", vacuum_before_kpa=60.0)
    on_paper = labels(shown(crew_client, "paper", lot, order=order).content.decode())
    typed_in = labels(shown(crew_client, "paper_entry", lot, order=order).content.decode())
    assert on_paper == typed_in
    assert on_paper == (["L3", "L2", "L1", "L10"] if order == "walk" else ["L1", "L2", "L3", "L10"])


@pytest.mark.parametrize("asked", [{}, {"order": "walk"}, {"order": "no such order"}])
def test_without_another_wish_the_order_is_that_of_the_walk(crew_client, lot, asked):
    sheet = shown(crew_client, "paper", lot, **asked).context["sheet"]
    assert sheet.order == "walk"


def test_paper_and_phone_have_the_same_four_states(crew_client, lot):
    keys = paper.state_keys()
    assert [key.state for key in keys] == list(LeakCheck.State.values)
    text = shown(crew_client, "paper", lot).content.decode()
    for key in keys:
        assert f">{key.key}</b> {key.words}" in text
    assert "Frozen: no verdict" in text


def test_causes_keep_the_numbers_of_sheets_printed_before():
    codes = [code for _, code, _ in paper.cause_numbers()]
    assert codes[: len(PRINTED_CAUSES)] == PRINTED_CAUSES
    assert set(codes) == set(Cause.values)


def test_a_line_with_an_open_leak_says_so_on_paper(crew_client, lot, line):
    leaks.check(line["L2"], "leak_left")
    text = shown(crew_client, "paper", lot).content.decode()
    assert text.count("leak left</span>") == 1


@pytest.mark.parametrize(
    ("lines", "columns"),
    [(4, [1]), (36, [1]), (37, [2]), (72, [2]), (73, [2, 1]), (145, [2, 2, 1])],
)
def test_long_woodlots_are_printed_in_two_columns_a_page(lines, columns):
    sheet = paper.Sheet(woodlot=None, order="walk", rows=list(range(lines)))
    assert [n for page in sheet.pages for column in page for n in column] == list(range(lines))
    assert [len(page) for page in sheet.pages] == columns
    assert sheet.is_wide == (lines <= 36)


def test_a_sheet_is_written_as_checks_of_that_walk(entry, line, crew):
    reply = entry({"L1": "t", "L2": "F", "L10": "z"})
    assert "3 checks recorded." in reply.content.decode()
    assert states() == {"L1": "tight", "L2": "leak_fixed", "L10": "frozen"}
    check = LeakCheck.objects.first()
    # 14:30 in New York is 18:30 UTC in March.
    assert check.observed_at == datetime(2026, 3, 15, 18, 30, tzinfo=UTC)
    assert (check.received_at, check.crew) == (people.FIXED_NOW, crew)


def test_everything_of_a_row_is_kept(entry):
    row = {
        "state": "L", "vacuum_before": "20.5", "vacuum_after": "21", "cause": "limb",
        "place_drops": "14", "note": "hemlock across it",
    }  # fmt: skip
    entry({"L3": row})
    check = LeakCheck.objects.get()
    # 1 inHg is 3.38639 kPa (NIST SP 811, 2008, table B.8).
    assert check.vacuum_before_kpa == pytest.approx(20.5 * 3.38639, rel=1e-5)
    assert check.vacuum_after_kpa == pytest.approx(21 * 3.38639, rel=1e-5)
    assert (check.cause, check.place_drops, check.note) == ("limb", 14, "hemlock across it")
    assert Leak.objects.get().opened_by == check


def test_the_walk_may_have_been_somebody_elses(entry, lot):
    wren = people.crew("wren")
    entry({"L1": "t"}, crew=wren.pk)
    assert LeakCheck.objects.get().crew == wren


def test_somebody_who_has_left_is_not_offered(entry, lot):
    gone = people.crew("marek")
    gone.is_active = False
    gone.save()
    reply = entry({"L1": "t"}, crew=gone.pk)
    assert states() == {}
    assert "Select a valid choice" in reply.content.decode()


def test_sent_twice_it_counts_once(entry):
    sheet = uuid4()
    for words in ("2 checks recorded.", "Recorded before: once."):
        assert words in entry({"L1": "t", "L2": "l"}, sheet=sheet).content.decode()
    assert (LeakCheck.objects.count(), Leak.objects.count()) == (2, 1)


def test_the_same_page_with_another_state_is_refused_by_its_line(entry):
    sheet = uuid4()
    entry({"L1": "t", "L2": "t"}, sheet=sheet)
    reply = entry({"L1": "t", "L2": "l", "L3": "t"}, sheet=sheet)
    assert states() == {"L1": "tight", "L2": "tight"}
    wrong = reply.context["form"].wrong
    assert [row.standing.line.label for row in wrong] == ["L2"]
    assert "Already recorded as L2: Tight." in reply.content.decode()


def test_two_pages_are_two_walks(entry):
    for _ in range(2):
        entry({"L1": "t"})
    assert LeakCheck.objects.count() == 2


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"state": "x"}, "X is no state: T, F, L or Z."),
        ({"vacuum_before": "20"}, "Say the state: T, F, L or Z."),
        ({"note": "sags"}, "Say the state: T, F, L or Z."),
        ({"state": "t", "cause": "limb"}, "A cause goes with a leak, fixed or left."),
        ({"state": "z", "cause": "deer"}, "A cause goes with a leak, fixed or left."),
        ({"state": "l", "cause": "moose"}, "Select a valid choice."),
        ({"state": "t", "vacuum_before": "twenty"}, "Enter a number."),
        ({"state": "t", "vacuum_before": "99"}, "Must not be over"),
        ({"state": "t", "vacuum_after": "-1"}, "Must not be under"),
        ({"state": "l", "place_drops": "5001"}, "less than or equal to 5000"),
        ({"state": "l", "place_drops": "1.5"}, "Enter a whole number."),
        ({"state": "t", "note": "x" * 501}, "at most 500 characters"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_written(entry, row, words):
    reply = entry({"L1": "t", "L2": row})
    assert states() == {}
    text = reply.content.decode()
    notice = text[text.index("To mend:") : text.index("</ul>", text.index("To mend:"))]
    assert ">L2</a>:" in notice
    assert words in notice
    assert ">L1</a>" not in notice


def test_nothing_typed_is_lost_by_a_bad_row(entry):
    row = {"state": "Q", "vacuum_before": "20.5", "cause": "sag", "place_drops": "7", "note": "<b>"}
    reply = entry({"L2": row, "L1": "f"}, sheet=(sheet := uuid4()), walked_at="06:45")
    text = reply.content.decode()
    for kept in ('value="Q"', 'value="20.5"', 'value="7"', 'value="&lt;b&gt;"', 'value="06:45"'):
        assert text.count(kept) == 1
    assert '<option value="sag" selected>' in text
    assert 'value="f"' in text
    # The same page still, so that a first send that got through is not written again.
    assert f'value="{sheet}"' in text


def test_all_bad_rows_are_named_at_once(entry):
    reply = entry({"L1": "x", "L2": "y", "L3": "t"})
    assert [row.standing.line.label for row in reply.context["form"].wrong] == ["L1", "L2"]


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ({"walked_at": ""}, "This field is required."),
        ({"walked_on": "16 March"}, "Enter a valid date."),
        ({"walked_at": "25:00"}, "Enter a valid time."),
        # It is 07:00 on the 16th in New York.
        ({"walked_on": "2026-03-16", "walked_at": "07:01"}, "That is still to come."),
        ({"walked_on": "2025-02-08", "walked_at": "12:00"}, "That is over 400 days ago."),
        ({"sheet": "no uuid"}, "Enter a valid UUID."),
    ],
)
def test_a_walk_at_no_time_is_refused(entry, head, words):
    reply = entry({"L1": "t"}, **head)
    assert states() == {}
    errors = reply.context["form"].head.errors
    assert words in " ".join(map(str, errors.values()))


@pytest.mark.parametrize(
    ("walked", "utc"),
    [
        (("2026-03-16", "07:00"), (2026, 3, 16, 11, 0)),
        # The night before, clocks went forward: UTC-5 on Saturday, UTC-4 on Sunday.
        (("2026-03-07", "12:00"), (2026, 3, 7, 17, 0)),
        (("2026-03-08", "12:00"), (2026, 3, 8, 16, 0)),
    ],
)
def test_the_time_is_the_operations_own(entry, walked, utc):
    entry({"L1": "t"}, walked_on=walked[0], walked_at=walked[1])
    assert LeakCheck.objects.get().observed_at == datetime(*utc, tzinfo=UTC)


def test_a_blank_sheet_is_told_so(entry):
    reply = entry({"L1": {"state": " ", "note": " "}})
    assert "No line has a state yet." in reply.content.decode()
    assert states() == {}


def test_a_slip_while_writing_takes_all_of_it_back(lot, line, crew, monkeypatch):
    real = actions.record_check

    def fail_at_the_third(*, line, **fields):
        if line.label == "L3":
            raise actions.SentBefore(LeakCheck(line=line, state="tight"))
        return real(line=line, **fields)

    monkeypatch.setattr(actions, "record_check", fail_at_the_third)
    rows = [SheetRow(uuid4(), line[label], "tight", {}) for label in ("L1", "L2", "L3")]
    moment = people.FIXED_NOW - timedelta(hours=1)
    with pytest.raises(SheetRefused, match="L3: Already recorded as L3: Tight"):
        record_sheet(rows=rows, observed_at=moment, received_at=people.FIXED_NOW, crew=crew)
    assert states() == {}


def test_lines_are_locked_in_one_order_whatever_the_sheets(lot, line, crew, monkeypatch):
    seen = []
    real = actions.record_check
    monkeypatch.setattr(
        actions, "record_check", lambda **row: (seen.append(row["line"].pk), real(**row))[1]
    )
    rows = [SheetRow(uuid4(), line[label], "tight", {}) for label in ("L10", "L1", "L3")]
    moment = people.FIXED_NOW
    record_sheet(rows=rows, observed_at=moment, received_at=moment, crew=crew)
    assert seen == sorted(seen)


def test_what_was_typed_is_shown_with_a_way_back(entry, crew_client):
    text = entry({"L2": "l", "L1": "t"}).content.decode()
    assert labels(text) == ["L1", "L2"]
    check = LeakCheck.objects.get(line__label="L2")
    assert f'href="{reverse("field:saved", args=[check.uuid])}"' in text


def test_another_sheet_is_not_shown_with_it(entry, crew_client, lot):
    entry({"L1": "t"})
    address = reverse("field:paper_typed", args=[lot.pk, uuid4()])
    assert "Nothing was recorded from this page" in crew_client.get(address).content.decode()


def test_every_page_brings_identifiers_of_its_own(crew_client, lot):
    pages = [shown(crew_client, "paper_entry", lot) for _ in range(2)]
    sheets = {str(page.context["form"].head["sheet"].value()) for page in pages}
    assert len(sheets) == 2
    assert all("no-store" in page.headers["Cache-Control"] for page in pages)


@pytest.mark.parametrize("name", ["paper", "paper_entry"])
def test_a_woodlot_without_lines_says_so(crew_client, name):
    text = shown(crew_client, name, woods.woodlot("Cold Brook")).content.decode()
    assert "No line yet" in text


def test_a_woodlot_of_a_thousand_lines_can_be_sent(crew_client, crew):
    lot = woods.woodlot("Home Hill")
    rows = woods.many_lines(lot, 999)
    typed = {"sheet": uuid4(), "walked_on": "2026-03-15", "walked_at": "12:00", "crew": crew.pk}
    for row in rows:
        names = ("state", "vacuum_before", "vacuum_after", "cause", "place_drops", "note")
        typed |= {f"line{row.pk}-{name}": "" for name in names}
    typed[f"line{rows[7].pk}-state"] = "t"
    reply = crew_client.post(reverse("field:paper_entry", args=[lot.pk]), typed)
    assert reply.status_code == 302
    assert LeakCheck.objects.get().line == rows[7]


@pytest.mark.parametrize("name", ["paper", "paper_entry"])
def test_questions_do_not_grow_with_the_lines(
    crew_client, lot, name, django_assert_max_num_queries
):
    with django_assert_max_num_queries(30) as few:
        shown(crew_client, name, lot)
    for number in range(20, 50):
        woods.line(lot, f"L{number}")
    with django_assert_max_num_queries(30) as many:
        shown(crew_client, name, lot)
    assert len(many) == len(few)
