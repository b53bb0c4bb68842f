"""The numbers page: what it shows can be checked against print, with a pencil."""

import re
from html import unescape

import pytest
from django.urls import reverse

from apps.operation import numbers


@pytest.fixture
def page(owner_client):
    return owner_client.get(reverse("operation:numbers"))


def _shown(page, anchor):
    """The words of one formula's card, tags and runs of white space left out."""
    card = page.content.decode().partition(f'id="{anchor}"')[2].partition("</details>")[0]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", card)).split())


# Each figure as printed by its source, at the resolution the page shows it.
PUBLISHED = (
    # Jones as revised by Perkins and Isselhardt (UVM Proctor): 87.1 / 2 - 0.32, 88.2 / 2 - 0.32.
    ("sugar-sap_per_syrup_jones", "66.0 Brix 43.230 gal of sap a gallon"),
    ("sugar-sap_per_syrup_jones", "66.9 Brix 43.780"),
    # Asadi, Beet-Sugar Handbook, Table A.1 p. 779: 10 % is 1.03998.
    ("sugar-specific_gravity", "specific gravity 1.03998"),
    # UVM Extension, Sap Pricing module (Farrell, Perkins): 11.073 lb a gallon at 66.9 Brix.
    ("sugar-syrup_weight_in_air", "11.073 lb/gal"),
    # IAPWS-IF97, Tables 35 and 36: 2.63889776 MPa at 500 K; 372.755919 K at 0.1 MPa.
    ("boiling-saturation_pressure_kpa", "pressure 2,638.90 kPa"),
    ("boiling-water_boils_c", "100 kPa 99.606 °C"),
    # Hydrometer chart header: 7.1 F at 66.0 Brix; OMAFRA maple blog (2013): 7.5 F at 67 Brix.
    ("boiling-trade_rise_c", "66.0 Brix 3.94 °C (7.10 °F)"),
    ("boiling-trade_rise_c", "67.0 Brix 4.17 °C (7.50 °F)"),
    # OIV-MA-AS2-02, Table I: -0.75 at 10 C and -0.38 at 15 C for 65 %.
    ("instruments-refractometer_correction_brix", "65 Brix at 10 °C -0.75 Brix"),
    ("instruments-refractometer_correction_brix", "65 Brix at 15 °C -0.38 Brix"),
    # US Standard Atmosphere (1976): 29.92, 28.86, 28.33 and 27.82 inHg.
    ("vacuum-ceiling_kpa", "(29.92 inHg) 1,000 ft"),
    ("vacuum-ceiling_kpa", "(28.86 inHg)"),
    ("vacuum-ceiling_kpa", "(27.82 inHg)"),
    # OSU Extension (Ober, 2013): 8 CFM serve 800 taps; 60 CFM over four equal lines are 15 each.
    ("vacuum-taps_served", "taps 800 taps"),
    ("tubing-air_flow-share_air_by_area", "each of four 1 in. lines 25.5 m³/h (15.0 CFM)"),
    # US National Weather Service chart (2001): 30 F and 10 mph 21 F, 0 and 15 -19, -5 and 20 -29.
    ("tapping-cold-wind_chill_c", "30 °F, 10 mph -6 °C (21 °F)"),
    ("tapping-cold-wind_chill_c", "0 °F, 15 mph -29 °C (-19 °F)"),
    ("tapping-cold-wind_chill_c", "-5 °F, 20 mph -34 °C (-29 °F)"),
    # 1 NYCRR 270.1(b)(2), half-open bands.
    ("grade-colour_class", "75.00 % Golden 74.99 % Amber 24.99 % Very Dark"),
    # Quebec M-35.1, r. 8.1, article 6: 23.0 cm none, 23.1 one, 39.1 two.
    ("tapping-guideline-taps_for_diameter", "23 cm, Quebec private land 0"),
    ("tapping-guideline-taps_for_diameter", "39.1 cm, Quebec private land 2"),
    # NIST SP 811 (2008), Appendix B.
    ("units-litres_from_us_gallons", "1 gal in L 3.7854118 L"),
    ("units-kpa_from_inhg", "1 inHg in kPa 3.386389 kPa"),
    # OSU Extension: 400,000 BTU a gallon of syrup from 2 % sap; ours is 1 % over.
    ("boiling-boil_heat_mj", "(404,453 BTU)"),
    # OSU Extension: 22 gallons a cord, 40 to 60 % efficiency.
    ("fuel-efficiency_from_use", "efficiency 44.0 %"),
)


@pytest.mark.parametrize(("anchor", "printed"), PUBLISHED)
def test_a_worked_example_shows_the_published_figure(page, anchor, printed):
    assert printed in _shown(page, anchor)


def test_every_formula_is_on_the_page_with_its_units_range_and_source(page):
    for area in numbers.AREAS:
        for entry in area.entries:
            shown = _shown(page, entry.anchor)
            for words in (entry.name, entry.formula, entry.units, entry.validity, entry.source):
                assert " ".join(words.split()) in shown
            assert entry.basis.label in shown


def test_contents_lead_to_every_part(page):
    html = page.content.decode()
    for area in numbers.AREAS:
        assert f'href="#{area.anchor}"' in html
        assert f'<h2 id="{area.anchor}"' in html


def test_every_badge_has_its_count(page):
    words = " ".join(re.sub(r"<[^>]+>", " ", page.content.decode()).split())
    for basis, count in numbers.how_surely():
        assert f" {basis.label} {count} formulas" in words


@pytest.mark.parametrize(
    ("query", "opened"), [("", False), ("?open=all", True), ("?open=x", False)]
)
def test_formulas_open_all_at_once_on_request(owner_client, query, opened):
    html = owner_client.get(reverse("operation:numbers") + query).content.decode()
    formulas = sum(len(area.entries) for area in numbers.AREAS)
    assert html.count(" open>") == (formulas if opened else 0)


def test_crew_read_the_numbers_too(crew_client):
    page = crew_client.get(reverse("operation:numbers"))
    assert page.status_code == 200
    assert reverse("operation:numbers") in page.content.decode().partition("<main")[0]


def test_strangers_are_sent_to_sign_in(client, db):
    page = client.get(reverse("operation:numbers"))
    assert page.status_code == 302
    assert reverse("operation:sign_in") in page.url


def test_numbers_are_only_read(owner_client):
    assert owner_client.post(reverse("operation:numbers")).status_code == 405


def test_examples_are_worked_anew_for_every_request(owner_client, monkeypatch):
    """A changed constant of the arithmetic shows at once: nothing is kept from import."""
    monkeypatch.setattr("apps.domain.sugar.JONES_OFFSET", 0.0)
    page = owner_client.get(reverse("operation:numbers"))
    assert "66.0 Brix 43.550 gal of sap a gallon" in _shown(page, "sugar-sap_per_syrup_jones")


def test_the_page_asks_the_database_no_more_than_the_settings_page_does(
    owner_client, django_assert_max_num_queries
):
    with django_assert_max_num_queries(4):
        owner_client.get(reverse("operation:numbers"))
