"""The range check every formula leans on."""

import math

import numpy as np
import pytest

from apps.domain.errors import DomainError, OutOfRange, require_range


@pytest.mark.parametrize("value", [0.0, 35.5, 70.0, 70, np.float64(1.0)])
def test_a_value_inside_or_on_a_limit_passes(value):
    assert require_range("brix", value, 0.0, 70.0) is None


@pytest.mark.parametrize("value", [-1e-12, 70.000001, math.nan, math.inf, -math.inf])
def test_a_value_outside_or_not_finite_is_refused(value):
    with pytest.raises(OutOfRange):
        require_range("brix", value, 0.0, 70.0)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_an_open_range_still_refuses_what_is_not_a_number(value):
    with pytest.raises(OutOfRange, match="sap_litres must be at least 0"):
        require_range("sap_litres", value, 0.0, math.inf)


def test_an_array_names_its_first_offender():
    with pytest.raises(OutOfRange) as refused:
        require_range("brix", np.array([[2.0, 71.0], [80.0, 3.0]]), 0.0, 70.0)
    assert refused.value.value == 71.0


def test_an_empty_array_has_nothing_to_refuse():
    assert require_range("brix", np.array([]), 0.0, 70.0) is None


@pytest.mark.parametrize(
    ("low", "high", "message"),
    [
        (0.0, 70.0, "brix must be between 0 and 70, not 99"),
        (100.0, math.inf, "brix must be at least 100, not 99"),
        (-math.inf, 70.0, "brix must be at most 70, not 99"),
        (-math.inf, math.inf, "brix must be a finite number, not 99"),
    ],
)
def test_the_message_says_value_and_range(low, high, message):
    assert str(OutOfRange("brix", 99.0, low, high)) == message


def test_a_value_just_past_a_limit_does_not_look_like_the_limit():
    with pytest.raises(OutOfRange, match=r"between 0\.05 and 1, not 0\.049999995"):
        require_range("efficiency", 0.049999995, 0.05, 1.0)


def test_the_error_carries_its_parts_for_a_form_to_show():
    error = OutOfRange("brix", 99.0, 0.0, 70.0)
    assert (error.name, error.value, error.low, error.high) == ("brix", 99.0, 0.0, 70.0)


def test_every_domain_error_is_a_value_error():
    assert issubclass(OutOfRange, DomainError)
    assert issubclass(DomainError, ValueError)
