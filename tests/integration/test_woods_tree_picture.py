"""The tree drawn without a map: every line in it once, joined as it runs, and said in words."""

import xml.etree.ElementTree as ElementTree
from itertools import chain, pairwise

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from apps.woods.models import Line
from apps.woods.queries import line_tree
from apps.woods.tree_picture import EDGE, WIDTH, tree_pictures
from tests.factories import woods


@pytest.fixture
def lot(db):
    return woods.woodlot("North")


def pictures(lot):
    return [picture for house in tree_pictures(line_tree(lot, 2026)) for picture in house.pictures]


def labels(picture):
    return [words.text for words in picture.words if words.sort in ("label", "rib")]


def comb(lot, ribs, **main):
    """A mainline with so many laterals hanging from it."""
    trunk = woods.line(lot, "M1", planned_taps=0, **main)
    for number in range(1, ribs + 1):
        woods.line(lot, f"L{number}", kind="lateral", parent=trunk, planned_taps=5)
    return trunk


def test_a_line_alone_is_one_pipe_with_its_name(lot):
    woods.line(lot, "M1", planned_taps=40)
    (picture,) = pictures(lot)
    assert picture.title == "M1, mainline, 40 taps"
    (stroke,) = picture.strokes
    assert (stroke.kind, stroke.x1, stroke.x2) == ("main", EDGE, WIDTH - EDGE)
    assert labels(picture) == ["M1"]


def test_laterals_hang_from_their_mainline_in_counting_order(lot):
    comb(lot, 10)
    (picture,) = pictures(lot)
    assert picture.title == "M1, mainline, 50 taps, with 10 running into it"
    assert labels(picture) == ["M1", *(f"L{number}" for number in range(1, 11))]
    hanging = [stroke for stroke in picture.strokes if stroke.kind == "lateral"]
    assert len(hanging) == 10
    assert all(stroke.x1 == stroke.x2 for stroke in hanging)


def test_many_laterals_fold_the_pipe_and_stay_inside_the_picture(lot):
    comb(lot, 40)
    (picture,) = pictures(lot)
    pipes = [one for one in picture.strokes if one.kind == "main" and one.y1 == one.y2]
    assert len(pipes) > 4
    # Each fold goes on from where the pipe above it ends.
    folds = [one for one in picture.strokes if one.kind == "main" and one.x1 == one.x2]
    assert [(fold.y1, fold.y2) for fold in folds] == [
        (above.y1, below.y1) for above, below in pairwise(pipes)
    ]
    assert {fold.x1 for fold in folds} == {WIDTH - EDGE}


def test_a_branch_comes_down_from_the_pipe_it_runs_into(lot):
    wet = woods.line(lot, "W", kind="wet")
    woods.line(lot, "M1", parent=wet)
    woods.line(lot, "M2", parent=wet)
    (picture,) = pictures(lot)
    trunk, first, down, second, along = picture.strokes
    assert (trunk.kind, trunk.width) == ("wet", 6)
    assert (down.x1, down.y1, down.y2) == (first.x1, trunk.y1, first.y1)
    assert (along.x1, along.y1, along.y2) == (second.x1, trunk.y1, second.y1)


def test_a_tall_tree_goes_on_in_further_pictures_from_the_same_pipe(lot):
    wet = woods.line(lot, "W", kind="wet")
    for number in range(1, 61):
        woods.line(lot, f"M{number}", parent=wet)
    first, *further = pictures(lot)
    assert [one.title for one in further] == ["W, continued"] * len(further)
    assert len(further) >= 2
    assert all(one.strokes[0].kind == "wet" for one in further)
    drawn = [text for one in (first, *further) for text in labels(one) if text != "W"]
    assert drawn == [f"M{number}" for number in range(1, 61)]


def test_a_lateral_with_branches_is_a_pipe_of_its_own(lot):
    trunk = comb(lot, 0)
    first = woods.line(lot, "L1", kind="lateral", parent=trunk)
    woods.line(lot, "L1a", kind="lateral", parent=first)
    (picture,) = pictures(lot)
    assert [words.text for words in picture.words if words.sort == "label"] == ["M1", "L1"]
    assert [words.text for words in picture.words if words.sort == "rib"] == ["L1a"]


@pytest.mark.parametrize(
    ("planned", "said"),
    [(None, "taps unknown"), (0, "0 taps"), (1200, "1,200 taps")],
)
def test_taps_not_counted_are_unknown_and_none_is_none(lot, planned, said):
    woods.line(lot, "M1", planned_taps=planned)
    (picture,) = pictures(lot)
    assert picture.title == f"M1, mainline, {said}"
    assert f"mainline, {said}" in [words.text for words in picture.words]


def test_a_lateral_nobody_counted_has_a_question_mark(lot):
    trunk = comb(lot, 1)
    woods.line(lot, "L2", kind="lateral", parent=trunk)
    (picture,) = pictures(lot)
    assert [words.text for words in picture.words if words.sort == "detail"][1:] == ["5", "?"]
    assert "5 taps and more uncounted" in picture.title


def test_lines_are_drawn_by_pump_house_and_those_without_one_last(lot):
    for name in ["Upper", "Lower"]:
        woods.line(lot, name[0], pump_house=woods.pump_house(lot, name))
    woods.line(lot, "A")
    found = tree_pictures(line_tree(lot, 2026))
    assert [one.house and one.house.name for one in found] == ["Lower", "Upper", None]
    assert [labels(one.pictures[0]) for one in found] == [["L"], ["U"], ["A"]]


def test_a_label_too_long_for_its_detail_stands_alone(lot):
    woods.line(lot, "M" * 24, kind="dry", planned_taps=20_000)
    (picture,) = pictures(lot)
    assert [words.text for words in picture.words] == ["M" * 24]


def page(client, lot):
    return client.get(reverse("woods:tree", args=[lot.pk])).content.decode()


def test_the_page_draws_each_picture_with_its_words_and_no_style_of_its_own(crew_client, lot):
    comb(lot, 3)
    drawn = page(crew_client, lot)
    svg = drawn[drawn.index('<svg class="tree"') : drawn.index("</svg>", drawn.index('"tree"')) + 6]
    # Of our own page: the reader that would refuse a stranger's file is tested elsewhere.
    picture = ElementTree.fromstring(svg)  # noqa: S314
    assert picture.get("role") == "img"
    assert picture.get("aria-label") == "M1, mainline, 15 taps, with 3 running into it"
    assert "style=" not in svg
    assert [text.text for text in picture.iter("text")][::2][:2] == ["M1", "L1"]


def test_the_table_under_the_pictures_says_the_same(owner_client, lot):
    trunk = comb(lot, 2)
    Line.objects.filter(pk=trunk.pk).update(geometry=[[-75.3, 43.9], [-75.301, 43.9]])
    drawn = page(owner_client, lot)
    assert "1 of 3 lines is mapped." in drawn
    table = drawn[drawn.index("<tbody>") :]
    assert table.count("<tr>") == 3
    assert table.count("<td>yes</td>") == 1
    assert reverse("woods:line_edit", args=[trunk.pk]) in table


def test_crew_see_the_tree_without_links_to_change_it(crew_client, lot):
    trunk = comb(lot, 1)
    drawn = page(crew_client, lot)
    assert "No line here is mapped." in drawn
    assert reverse("woods:line_edit", args=[trunk.pk]) not in drawn


def test_what_a_label_holds_is_never_run_as_markup(owner_client, lot):
    woods.line(lot, "<b>&</b>")
    drawn = page(owner_client, lot)
    assert "<b>&</b>" not in drawn
    assert "&lt;b&gt;&amp;&lt;/b&gt;</text>" in drawn


def test_the_woodlot_and_its_lines_lead_to_the_tree(crew_client, lot):
    woods.line(lot, "M1")
    for name in ["woodlot", "lines"]:
        shown = crew_client.get(reverse(f"woods:{name}", args=[lot.pk])).content.decode()
        assert reverse("woods:tree", args=[lot.pk]) in shown


kinds = st.lists(st.tuples(st.integers(0, 30), st.sampled_from(Line.Kind.values)), max_size=25)


class AnyTree(TestCase):
    @given(kinds)
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_every_line_is_drawn_once_inside_its_picture(self, shape):
        lot = woods.woodlot("North")
        rows = []
        for number, (parent, kind) in enumerate(shape):
            above = rows[parent % number] if number and parent % 3 else None
            rows.append(woods.line(lot, f"{number}", kind=kind, parent=above))
        drawn = pictures(lot)
        # A pipe that goes on in a further picture has its name there again, first of all.
        once = [labels(one)[one.title.endswith("continued") :] for one in drawn]
        assert sorted(chain.from_iterable(once)) == sorted(row.label for row in rows)
        for one in drawn:
            for stroke in one.strokes:
                assert 0 <= min(stroke.x1, stroke.x2) <= max(stroke.x1, stroke.x2) <= WIDTH
                assert 0 < stroke.y1 <= stroke.y2 <= one.height
            assert all(0 < words.y <= one.height and words.x < WIDTH for words in one.words)
