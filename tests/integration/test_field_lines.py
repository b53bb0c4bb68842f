"""Finding a line by what a number pad can type."""

import pytest

from apps.field.queries import NoSuchLine, SeveralLines, find_line, number_pad_is_enough
from tests.factories import leaks, woods

pytestmark = pytest.mark.django_db


def lines(*labels):
    return [leaks.a_line(label) for label in labels]


@pytest.mark.parametrize(
    ("labels", "typed", "found"),
    [
        (["L2", "L12", "L112"], "12", "L12"),
        (["L2", "L12"], "l2", "L2"),
        (["L02"], "2", "L02"),
        (["7", "M7"], "7", "7"),
        (["M1-4", "M1-5"], "1.4", "M1-4"),
        (["Brook"], "brook", "Brook"),
    ],
)
def test_a_label_or_its_number_finds_the_line(labels, typed, found):
    lines(*labels)
    assert find_line(woodlot=None, typed=typed).label == found


@pytest.mark.parametrize("typed", ["3", "L", "Creek", "1 2"])
def test_what_fits_no_line_is_refused(typed):
    lines("L12", "Brook")
    with pytest.raises(NoSuchLine):
        find_line(woodlot=None, typed=typed)


def test_a_number_that_fits_two_lines_names_both():
    lines("N4", "S4")
    with pytest.raises(SeveralLines, match="N4 in Tamarack Hollow, S4 in Tamarack Hollow"):
        find_line(woodlot=None, typed="4")


def test_the_woodlot_tells_two_lines_of_one_label_apart():
    lines("L4")
    other = leaks.a_line("L4", woodlot=woods.woodlot("Beech Hill"))
    assert find_line(woodlot=other.woodlot, typed="4") == other
    with pytest.raises(SeveralLines):
        find_line(woodlot=None, typed="L4")


@pytest.mark.parametrize(
    ("labels", "enough"),
    [
        ([], True),
        (["L1", "L2"], True),
        (["N1", "S1"], False),
        (["L1", "Brook"], False),
    ],
)
def test_a_number_pad_is_offered_only_where_numbers_tell_lines_apart(labels, enough):
    lines(*labels)
    assert number_pad_is_enough() is enough


def test_the_same_number_in_two_woodlots_needs_no_letters():
    lines("L1")
    leaks.a_line("L1", woodlot=woods.woodlot("Beech Hill"))
    assert number_pad_is_enough()
