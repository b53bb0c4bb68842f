"""A leak check on the phone's own pages: line, state, save, and one touch to take it back."""

import pytest

from apps.leaks.models import LeakCheck
from tests.factories import leaks, woods
from tests.factories import operation as people
from tests.functional import phone_views as views

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def lines(fixed_clock):
    people.crew("sol")
    return [leaks.a_line(f"L{number}", planned_taps=500 - number) for number in range(1, 13)]


def test_three_touches_from_the_walk_record_a_check(field_page, lines):
    page = field_page()
    views.count_touches(page)
    page.locator("a.line").first.tap()
    page.locator(".state-leak_left").tap()
    views.save(page)
    assert views.touches(page) == 3
    check = views.wait_for(LeakCheck)
    assert (check.line, check.state, check.crew.username) == (lines[0], "leak_left", "sol")
