"""The season by woodlot: from typing two loads and a batch to the shares on the page, by hand.

    Tamarack Hollow   1,000 gal of sap at 2.0 Brix / (87.1/2.0 - 0.32) = 23.13 gal of syrup
    Beech Ledge         800 gal of sap at 2.5 Brix / (87.1/2.5 - 0.32) = 23.18 gal
    together 46.31 gal (46.307); drawn 44.00 gal at 66.0 Brix: 95.0 % recovered

Shared out by sugar mass, volume x density x Brix, with the densities of sucrose solutions at
20 C (ICUMSA polynomial): 1.00594 kg/L at 2.0 and 1.00788 at 2.5 Brix.

    1,000 x 1.00594 x 2.0 = 2,011.9      800 x 1.00788 x 2.5 = 2,015.8
    2,011.9 / 4,027.7 x 44.00 = 21.98 gal, and the other 22.02

Taps counted: 400 and 500, so 0.055 and 0.044 gal of syrup a tap.
"""

import pytest
from django.urls import reverse

from tests.factories import operation as people
from tests.factories import tapping, woods

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def page(desk, live_server, sign_in, fixed_clock, db):
    people.operation()
    owner = people.owner()
    for name, taps in (("Tamarack Hollow", 400), ("Beech Ledge", 500)):
        line = woods.line(woods.woodlot(name), "1", planned_taps=taps)
        tapping.tally(line, owner, taps)
    sign_in(desk, "ina")
    return desk


def save_load(page, live_server, woodlot, gallons, brix):
    page.goto(f"{live_server.url}{reverse('sugarhouse:sap')}?method=load")
    page.get_by_label("Woodlot", exact=False).select_option(label=woodlot)
    page.get_by_label("Sap hauled").fill(gallons)
    page.get_by_label("Sugar of this sap").fill(brix)
    page.get_by_role("button", name="Save sap").click()
    page.wait_for_load_state()


@pytest.fixture
def review(page, live_server):
    save_load(page, live_server, "Tamarack Hollow", "1000", "2.0")
    save_load(page, live_server, "Beech Ledge", "800", "2.5")
    page.goto(live_server.url + reverse("sugarhouse:batches"))
    page.get_by_label("Sap boiled, oldest first").fill("1800")
    page.get_by_label("Syrup drawn").fill("44")
    page.get_by_label("Syrup density").fill("66.0")
    page.locator("form button.primary").first.click()
    page.wait_for_load_state()
    page.goto(live_server.url + reverse("season:review"))
    return page


def cells(page, name):
    """The cells of each row that begins with the name, in the order of the tables."""
    rows = page.locator("tr", has=page.locator("th[scope=row]", has_text=name))
    return [row.locator("td").all_inner_texts() for row in rows.all()]


def test_each_woodlots_yield_is_the_hand_arithmetic(review):
    gave, drawn = cells(review, "Tamarack Hollow")[:2]
    assert gave[1] == "1,000"
    assert gave[4:6] == ["23.13", "0.058"]
    assert drawn[0] == "21.98"
    assert drawn[-1] == "0.055"


def test_shares_sum_to_what_was_drawn(review):
    shares = [float(cells(review, name)[1][0]) for name in ("Tamarack Hollow", "Beech Ledge")]
    assert shares == [21.98, 22.02]
    assert round(sum(shares), 2) == 44.00
    assert "95.0 %" in review.locator("main").inner_text()
