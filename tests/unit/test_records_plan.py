"""What a sheet would do: new, changed or same, and every row that is out of place."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.records.payload import Fault, LineRow, Sheet
from apps.records.plan import Change, Effect, Known, make_plan

ALL = frozenset(LineRow.__dataclass_fields__)
HOUSES = {"North": frozenset({"Lower"}), "South": frozenset()}


def row(label, parent=None, woodlot="North", **fields):
    return LineRow(woodlot, label, "main", parent=parent, **fields)


def known(*rows):
    return Known(HOUSES, {line.identity: line for line in rows})


def plan(*rows, told=ALL, records=(), season=2026):
    numbered = dict(enumerate(rows, start=2))
    return make_plan(Sheet(numbered, told, None, ()), known(*records), season)


def reasons(made):
    return [(fault.row, fault.column, fault.reason) for fault in made.faults]


def test_a_line_not_in_the_records_is_new_and_sets_what_it_tells():
    (entry,) = plan(row("M1", planned_taps=4)).entries
    assert entry.effect is Effect.NEW
    assert Change("planned_taps", None, 4) in entry.changes


def test_a_line_that_says_the_same_is_the_same():
    line = row("M1", length_m=30.48)
    assert plan(line, records=[line]).count(Effect.SAME) == 1


@pytest.mark.parametrize(
    ("before", "after", "effect"),
    [
        ({"length_m": 37.0}, {"length_m": 37.00000000001}, Effect.SAME),
        ({"length_m": 37.0}, {"length_m": 37.001}, Effect.CHANGED),
        ({"planned_taps": 4}, {"planned_taps": 5}, Effect.CHANGED),
        ({"planned_taps": 0}, {}, Effect.CHANGED),
        ({}, {"planned_taps": 0}, Effect.CHANGED),
        ({"pump_house": "Lower"}, {}, Effect.CHANGED),
        ({}, {}, Effect.SAME),
    ],
)
def test_a_known_line_is_changed_only_where_it_differs(before, after, effect):
    (entry,) = plan(row("M1", **after), records=[row("M1", **before)]).entries
    assert entry.effect is effect
    assert len(entry.changes) == (effect is Effect.CHANGED)


def test_an_unknown_in_a_told_column_takes_away_and_in_an_untold_one_does_not():
    before = row("M1", planned_taps=4)
    (told,) = plan(row("M1"), records=[before]).entries
    assert told.changes == (Change("planned_taps", 4, None),)
    (untold,) = plan(row("M1"), told={"woodlot", "label", "kind"}, records=[before]).entries
    assert untold.effect is Effect.SAME


def test_the_same_label_in_two_woodlots_is_two_lines():
    assert plan(row("M1"), row("M1", woodlot="South")).faults == ()


def test_a_label_given_twice_names_the_row_it_repeats():
    made = plan(row("M1"), row("M2"), row("M1"))
    assert reasons(made) == [(4, "label", "line M1 is in row 2 already")]


def test_an_unknown_woodlot_is_named():
    made = plan(row("M1", woodlot="West"))
    assert reasons(made) == [(2, "woodlot", "there is no woodlot called West")]


def test_a_pump_house_must_be_in_the_lines_own_woodlot():
    made = plan(row("M1", pump_house="Lower"), row("M1", woodlot="South", pump_house="Lower"))
    assert reasons(made) == [(3, "pump house", "South has no pump house called Lower")]


@pytest.mark.parametrize(
    ("rows", "records"),
    [
        ([row("L1", "M1"), row("M1")], []),
        ([row("M1"), row("L1", "M1")], []),
        ([row("L1", "M1")], [row("M1")]),
    ],
)
def test_a_parent_may_come_later_earlier_or_be_there_already(rows, records):
    assert plan(*rows, records=records).faults == ()


@pytest.mark.parametrize("records", [[], [row("M1", woodlot="South")]])
def test_a_parent_nowhere_in_the_woodlot_is_named(records):
    made = plan(row("L1", "M1"), records=records)
    assert reasons(made) == [(2, "parent", "no line M1 in North, here or in the records")]


@pytest.mark.parametrize(
    ("rows", "records", "rings"),
    [
        ([row("A", "A")], [], {2: "A → A"}),
        ([row("A", "B"), row("B", "A")], [], {2: "A → B → A", 3: "A → B → A"}),
        ([row("A", "B"), row("B", "C"), row("C", "B")], [], {3: "B → C → B", 4: "B → C → B"}),
        ([row("A", "B")], [row("A"), row("B", "A")], {2: "A → B → A"}),
        ([row("A"), row("B", "A")], [row("A", "B")], {}),
        ([row("A", "B"), row("B", "A")], [row("C", "C")], {2: "A → B → A", 3: "A → B → A"}),
    ],
)
def test_lines_that_run_in_a_ring_are_named(rows, records, rings):
    made = plan(*rows, records=records)
    assert {n: reason for n, _, reason in reasons(made)} == {
        number: f"makes a ring: {ring}" for number, ring in rings.items()
    }


def test_without_a_parent_column_the_recorded_parents_stand():
    told = frozenset({"woodlot", "label", "kind"})
    made = plan(row("A"), row("B"), told=told, records=[row("A"), row("B", "A")])
    assert made.faults == ()
    assert made.count(Effect.SAME) == 2


def test_lines_of_the_sheets_woodlots_that_it_does_not_name_are_counted():
    others = [row("M2"), row("M3"), row("M1", woodlot="South")]
    assert plan(row("M1"), records=[row("M1"), *others]).untouched == 2


def test_faults_come_in_the_order_of_the_rows():
    made = plan(row("L1", "M9"), row("M1", woodlot="West"), row("L1", "L1"))
    assert [fault.row for fault in made.faults] == [2, 3, 4]


def test_a_row_with_a_bad_cell_has_its_place_checked_too():
    bad = Fault(2, "kind", "“pipe” is no kind of line")
    read = Sheet({2: row("L1", "M9", woodlot="West")}, ALL, None, (bad,))
    made = make_plan(read, known(), 2026)
    assert [fault.column for fault in made.faults] == ["kind", "parent", "woodlot"]


def test_the_digest_stands_for_what_is_shown():
    one = plan(row("M1", planned_taps=4))
    assert one.digest == plan(row("M1", planned_taps=4)).digest
    others = [plan(row("M1", planned_taps=5)), plan(row("M1", planned_taps=4), season=2027)]
    assert one.digest not in {other.digest for other in others}


def rings_by_brute_force(parents):
    """Labels from which following the flow comes back to the label itself."""
    caught = set()
    for start in parents:
        here = parents[start]
        for _ in parents:
            if here == start:
                caught.add(start)
            here = parents.get(here)
    return caught


@given(st.dictionaries(st.sampled_from("ABCDEFGH"), st.none() | st.sampled_from("ABCDEFGH")))
def test_exactly_the_lines_on_a_ring_are_named(parents):
    made = plan(*(row(label, parent) for label, parent in parents.items()))
    labels = list(parents)
    named = {labels[fault.row - 2] for fault in made.faults if "ring" in fault.reason}
    assert named == rings_by_brute_force(parents)
