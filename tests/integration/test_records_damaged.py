"""Sheets damaged at random are written whole or not at all, and every refusal says where and why.

A sheet that is written does what a plain dictionary of its rows would do, whatever their order.
"""

import csv
import io

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.records import actions, queries
from apps.records.payload import NotASheet
from apps.records.plan import Effect
from apps.woods.models import Line, TapCount
from tests.factories import woods

HEAD = ["woodlot", "pump house", "label", "kind", "parent", "planned taps", "length (ft)"]
GOOD = [
    ["North", "Lower", "M1", "mainline", "", "0", "1000"],
    ["North", "", "L1", "lateral", "M1", "7", "120"],
    ["North", "", "L2", "lateral", "M1", "9", "84.5"],
    ["North", "", "W", "wet conductor", "", "", ""],
    ["South", "", "M1", "mainline", "", "40", ""],
]
JUNK = ["", " ", "x", "-1", "1e9", "M1", "L1", "nan", "=1+1", "'", '"', "North", "pipe", "é" * 30]
slow = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

a_cell = st.tuples(
    st.just("cell"), st.integers(0, 5), st.integers(0, 6), st.sampled_from(JUNK) | st.text()
)
a_row = st.tuples(
    st.sampled_from(["drop", "twice", "cut", "longer"]), st.integers(1, 5), st.integers(0, 6)
)
a_letter = st.tuples(st.just("letter"), st.integers(0, 400), st.sampled_from("\",;\t\n\r'x0"))


def written(rows):
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


def damage(rows, blow):
    """One blow to one cell or one row of a sheet."""
    kind, at, *more = blow
    at = min(at, len(rows) - 1)
    if kind == "cell":
        rows[at][min(more[0], len(rows[at]) - 1)] = more[1]
    elif kind == "drop":
        del rows[at]
    elif kind == "twice":
        rows.append(list(rows[at]))
    elif kind == "cut":
        rows[at] = rows[at][: more[0] + 1]
    else:
        rows[at].append("stray")


def records():
    lines = Line.objects.order_by("pk").values_list("pk", "label", "kind", "parent", "length_m")
    return list(lines), list(TapCount.objects.order_by("pk").values_list())


def plant():
    """Both woodlots, and two lines on record before the sheet comes."""
    north, south = woods.woodlot("North"), woods.woodlot("South")
    woods.pump_house(north, "Lower")
    main = woods.line(north, "M1", planned_taps=3)
    woods.line(north, "L1", kind="lateral", parent=main)
    return north, south


def hand_in(text):
    """Look, then write what was shown; the plan, or None where the text is no sheet at all."""
    try:
        plan = queries.plan_lines(text, 2026)
    except NotASheet:
        return None
    try:
        return actions.import_lines(text=text, season=2026, digest=plan.digest)
    except actions.ImportRefused as refusal:
        return refusal.plan


def whole_or_nothing(text):
    before = records()
    plan = hand_in(text)
    if plan is None or plan.faults:
        assert records() == before
    else:
        assert Line.objects.count() == 2 + plan.count(Effect.NEW)
        assert queries.plan_lines(text, 2026).count(Effect.SAME) == len(plan.entries)
    return plan


class Damaged(TestCase):
    """Each sheet in a transaction of its own."""

    @slow
    @given(st.lists(a_cell | a_row, min_size=1, max_size=4))
    def test_a_sheet_with_broken_cells_and_rows_is_written_whole_or_not_at_all(self, blows):
        plant()
        rows = [list(HEAD), *(list(row) for row in GOOD)]
        for blow in blows:
            damage(rows, blow)
        plan = whole_or_nothing(written(rows))
        for fault in plan.faults if plan else ():
            assert fault.reason
            assert 2 <= fault.row <= len(rows) + 100, "text with line ends makes further rows"

    @slow
    @given(st.lists(a_letter, min_size=1, max_size=3))
    def test_a_sheet_with_stray_letters_is_written_whole_or_not_at_all(self, blows):
        plant()
        text = written([HEAD, *GOOD])
        for _, at, letter in blows:
            text = text[:at] + letter + text[at:]
        whole_or_nothing(text)

    @slow
    @given(st.integers(0, 4), st.sampled_from(["pipe", ""]))
    def test_one_bad_row_is_named_and_no_other(self, at, kind):
        plant()
        rows = [list(row) for row in GOOD]
        rows[at][3] = kind
        plan = hand_in(written([HEAD, *rows]))
        assert [(fault.row, fault.column) for fault in plan.faults] == [(at + 2, "kind")]
        assert Line.objects.count() == 2


taps = st.none() | st.integers(0, 20_000)
sheets = st.lists(
    st.tuples(st.sampled_from("ABCDEF"), st.none() | st.integers(0, 4), taps),
    max_size=6,
    unique_by=lambda row: row[0],
)


def as_sheet(told):
    """Rows in the order told; each may run into a row before it, so that no ring closes."""
    parents = {label: told[up % at][0] for at, (label, up, _) in enumerate(told) if up and at}
    rows = [
        ["North", "", label, "lateral", parents.get(label, ""), "" if n is None else n, ""]
        for label, _, n in told
    ]
    return rows, {label: (parents.get(label), n) for label, _, n in told}


def stored():
    counts = dict(TapCount.objects.filter(season=2026).values_list("line_id", "planned_taps"))
    return {
        line.label: (line.parent and line.parent.label, counts.get(line.pk))
        for line in Line.objects.filter(woodlot__name="North").select_related("parent")
    }


class Followed(TestCase):
    """What is on record after several sheets, one after the other."""

    @slow
    @given(st.lists(sheets, min_size=1, max_size=3), st.randoms(use_true_random=False))
    def test_sheets_do_what_a_dictionary_would_in_any_order_of_rows(self, told, chance):
        plant()
        model = {"M1": (None, 3), "L1": ("M1", None)}
        for sheet in told:
            rows, means = as_sheet(sheet)
            chance.shuffle(rows)
            plan = hand_in(written([HEAD, *rows]))
            # Sheets that are sound each by itself may close a ring between them.
            assert all("makes a ring" in fault.reason for fault in plan.faults)
            model |= {} if plan.faults else means
            assert stored() == model
