"""Numbers and pictures as every page shows them: tags, units both ways, the shape of a figure."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import plotly.graph_objects as go
import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from apps.operation import display
from apps.operation.figures import COLOURS, as_figure
from apps.operation.management.commands.serve import server_command

SYSTEMS = ("us", "metric")


def said(words, unit_system="us", **values):
    context = {"operation": SimpleNamespace(unit_system=unit_system)} | values
    return Template("{% load quantities %}" + words).render(Context(context))


@pytest.mark.parametrize(
    ("words", "us", "metric"),
    [
        # NIST SP 811 (2008), app. B.8: 1 US gal = 3.785 412 L, 1 in. = 25.4 mm.
        ('{% quantity litres "volume" %}', "1,000 gal", "3,785 L"),
        ('{% quantity litres "volume" 2 %}', "1,000.00 gal", "3,785.41 L"),
        ('{% quantity depth "depth" %}', "10.00 in.", "25.4 cm"),
        ('{% quantity nothing "volume" %}', "unknown", "unknown"),
        ('{% quantity zero "volume" %}', "0 gal", "0 L"),
        ('{% bare litres "volume" %}', "1,000", "3,785"),
        ('{% bare litres "volume" 1 %}', "1,000.0", "3,785.4"),
        ('{% bare nothing "volume" %}', "unknown", "unknown"),
        ('{% unit "volume" %}', "gal", "L"),
        ('{% unit "count" %}', "", ""),
    ],
)
def test_page_shows_a_stored_value_in_the_operations_units(words, us, metric):
    values = {"litres": 3785.411784, "depth": 254.0, "nothing": None, "zero": 0.0}
    assert said(words, "us", **values) == us
    assert said(words, "metric", **values) == metric


@pytest.mark.parametrize("quantity", display.QUANTITIES)
@pytest.mark.parametrize("system", SYSTEMS)
@given(value=st.floats(-1e6, 1e6))
def test_every_unit_converts_there_and_back(quantity, system, value):
    unit = display.unit_for(quantity, system)
    assert float(unit.store(unit.show(value))) == pytest.approx(value, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("quantity", display.QUANTITIES)
@pytest.mark.parametrize("system", SYSTEMS)
@given(low=st.floats(-1e5, 1e5), more=st.floats(0.5, 1e5))
def test_more_of_a_thing_is_never_shown_as_less(quantity, system, low, more):
    unit = display.unit_for(quantity, system)
    assert float(unit.show(low + more)) > float(unit.show(low))


@pytest.mark.parametrize(
    ("quantity", "si", "us", "metric"),
    [
        # A difference of 5 C is one of 9 F, where 5 C as a temperature is 41 F.
        ("temperature_difference", 5.0, "9.0 °F", "5.0 °C"),
        ("temperature", 5.0, "41 °F", "5.0 °C"),
        # 25.4 mm fall an inch; 1 m of snow is 39 in.
        ("snow", 1.0, "39 in.", "100 cm"),
        ("length", 304.8, "1,000 ft", "305 m"),
        ("area", 4.046856, "10.0 acres", "4.05 ha"),
        ("brix", 66.9, "66.9 Brix", "66.9 Brix"),
        ("minutes", 90.0, "90 min", "90 min"),
    ],
)
def test_quantities_by_hand_in_both_systems(quantity, si, us, metric):
    assert display.shown(si, quantity, "us") == us
    assert display.shown(si, quantity, "metric") == metric


@pytest.mark.parametrize(
    ("value_si", "shown"), [(-0.004, "0.00 L"), (0.004, "0.00 L"), (-0.006, "-0.01 L")]
)
def test_nothing_is_never_shown_as_less_than_nothing(value_si, shown):
    assert display.shown(value_si, "volume_fine", "metric") == shown


@pytest.fixture
def figure():
    days = [date(2026, 3, 1), date(2026, 3, 8)]
    drawn = go.Figure(go.Scatter(x=days, y=[1.5, np.nan], name="2026"))
    return as_figure(drawn, id="sap", title="Sap", description="A line of sap by day.")


def test_picture_carries_its_words_and_a_name_for_its_numbers(figure):
    assert (figure.title, figure.description) == ("Sap", "A line of sap by day.")
    assert figure.spec_id == "sap-spec"


def test_picture_is_plain_data_with_a_gap_where_nothing_is_known(figure):
    (trace,) = figure.spec["data"]
    assert trace["x"] == ["2026-03-01", "2026-03-08"]
    assert trace["y"] == [1.5, None]


def test_every_picture_has_our_own_look(figure):
    layout = figure.spec["layout"]
    assert layout["colorway"] == list(COLOURS)
    # Clear, so that the page's own paper shows in the light and in the dark.
    assert layout["paper_bgcolor"] == layout["plot_bgcolor"] == "rgba(0,0,0,0)"


def luminance(colour):
    """Relative luminance of #rrggbb (WCAG 2.2, W3C 2023, definition)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("colour", COLOURS)
def test_lines_stand_out_from_white_paper(colour):
    # WCAG 2.2, success criterion 1.4.11: 3 to 1 for graphics.
    assert 1.05 / (luminance(colour) + 0.05) >= 3


@pytest.mark.parametrize(
    ("words", "secure"),
    [
        ({}, False),
        ({"certificate": "c.pem"}, False),
        ({"key": "k.pem"}, False),
        ({"certificate": "c.pem", "key": "k.pem"}, True),
    ],
)
def test_server_speaks_https_only_with_both_halves(words, secure):
    command = server_command(host="0.0.0.0", port=8443, **words)  # noqa: S104
    assert ("--ssl-certificate" in command) is secure
    assert command[command.index("--host") + 1] == "0.0.0.0"  # noqa: S104
    assert command[command.index("--port") + 1] == "8443"
    assert command[command.index("--workers") + 1] == "1"
