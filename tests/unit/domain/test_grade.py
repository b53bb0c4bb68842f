"""Grades against the printed standards, at and on both sides of every limit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.domain.errors import DomainError, OutOfRange
from apps.domain.grade import (
    DENSITY_STANDARDS,
    ColourClass,
    Grade,
    Sample,
    check_density,
    colour_class,
    judge,
)

# 1 NYCRR 270.1(b)(2); USDA 2015; Canada C.R.C. c. 289 Sched. III. Exact limits.
COLOUR_LIMITS = [
    (100.0, "Golden", "delicate"),
    (75.0, "Golden", "delicate"),
    (74.99, "Amber", "rich"),
    (74.9, "Amber", "rich"),
    (50.0, "Amber", "rich"),
    (49.99, "Dark", "robust"),
    (49.9, "Dark", "robust"),
    (25.0, "Dark", "robust"),
    (24.99, "Very Dark", "strong"),
    (0.0, "Very Dark", "strong"),
]
# (jurisdiction, Brix, verdict), exact limits of the texts named in grade.DENSITY_STANDARDS.
DENSITY_LIMITS = [
    ("United States", 65.9, "under"),
    ("United States", 66.0, "within"),
    ("United States", 68.9, "within"),
    ("United States", 69.0, "over"),
    ("Canada", 65.9, "under"),
    ("Canada", 66.0, "within"),
    ("Canada", 69.0, "over"),
    ("New York", 65.99, "under"),
    ("New York", 66.0, "within"),
    ("New York", 68.9, "within"),
    ("New York", 68.91, "over"),
    ("Vermont", 66.8, "under"),
    ("Vermont", 66.9, "within"),
    ("Vermont", 68.9, "within"),
    ("Vermont", 69.0, "over"),
    ("New Hampshire", 66.8, "under"),
    ("New Hampshire", 66.9, "within"),
    ("New Hampshire", 70.0, "within"),
    ("Maine", 65.9, "under"),
    ("Maine", 66.0, "within"),
    ("Maine", 69.0, "within"),
    ("Maine", 69.1, "over"),
    ("Ontario", 65.9, "under"),
    ("Ontario", 66.0, "within"),
    ("Ontario", 70.0, "within"),
]
SOUND = Sample(60.0, 66.5, off_flavour=False, clear=True, container_litres=150.0)


@pytest.mark.parametrize(("transmittance", "label", "taste"), COLOUR_LIMITS)
def test_colour_classes_meet_at_the_printed_limits(transmittance, label, taste):
    colour = colour_class(transmittance)
    assert (colour.label, colour.taste) == (label, taste)


@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_more_light_never_gives_a_darker_class(one, other):
    order = list(ColourClass)
    lighter, darker = max(one, other), min(one, other)
    assert order.index(colour_class(lighter)) <= order.index(colour_class(darker))


@pytest.mark.parametrize("transmittance", [-0.1, 100.1, float("nan")])
def test_an_impossible_transmittance_is_refused(transmittance):
    with pytest.raises(OutOfRange, match="transmittance_percent must be between 0 and 100"):
        colour_class(transmittance)


@pytest.mark.parametrize(("jurisdiction", "brix", "verdict"), DENSITY_LIMITS)
def test_density_limits_stand_where_they_are_printed(jurisdiction, brix, verdict):
    assert check_density(brix, jurisdiction).verdict == verdict


@pytest.mark.parametrize(("brix", "may_crystallise"), [(68.9, False), (69.0, True)])
def test_crystals_are_warned_of_where_no_rule_forbids_them(brix, may_crystallise):
    # ontario.ca: crystals form above 68.9; the rule itself has no maximum.
    check = check_density(brix, "Ontario")
    assert (check.verdict, check.may_crystallise) == ("within", may_crystallise)


@pytest.mark.parametrize(
    ("jurisdiction", "fahrenheit"),
    [("United States", 68.0), ("Canada", 68.0), ("Vermont", 60.0), ("Maine", 68.0)],
)
def test_a_density_row_says_at_which_temperature_it_is_measured(jurisdiction, fahrenheit):
    reference_c = DENSITY_STANDARDS[jurisdiction].reference_c
    assert reference_c * 1.8 + 32 == pytest.approx(fahrenheit)


def test_every_density_row_names_its_source_and_how_it_was_read():
    assert all(standard.source for standard in DENSITY_STANDARDS.values())
    secondary = [s.jurisdiction for s in DENSITY_STANDARDS.values() if s.status != "read"]
    assert secondary == ["New Hampshire"]


def test_an_unknown_jurisdiction_is_refused_with_the_known_ones():
    with pytest.raises(DomainError, match=r"one of United States, Canada, .*, not Atlantis"):
        check_density(66.0, "Atlantis")


def test_an_impossible_density_is_refused():
    with pytest.raises(OutOfRange, match="brix must be between 0 and 100, not 101"):
        check_density(101.0, "Vermont")


def test_sound_syrup_is_grade_a_of_its_colour():
    judgement = judge(SOUND, "New York")
    assert (judgement.grade, judgement.colour) == (Grade.GRADE_A, ColourClass.AMBER)
    assert judgement.reasons == ()


@pytest.mark.parametrize("transmittance", [90.0, 60.0, 30.0, 10.0, None])
def test_off_flavour_overrides_every_colour(transmittance):
    sample = Sample(transmittance, 66.5, off_flavour=True, clear=True, container_litres=150.0)
    judgement = judge(sample, "United States")
    assert judgement.grade is Grade.PROCESSING
    assert judgement.reasons == ("off-flavour overrides colour",)


def test_cloudy_syrup_is_processing_grade():
    sample = Sample(80.0, 66.5, off_flavour=False, clear=False, container_litres=150.0)
    assert judge(sample, "Canada").grade is Grade.PROCESSING
    assert judge(sample, "Canada").reasons == ("not clear",)


@pytest.mark.parametrize(
    ("jurisdiction", "litres", "grade"),
    # USDA 2015: 5 US gallons, 18.927 L; Canadian Grade Compendium vol. 7: 20 L.
    [
        ("United States", 18.9, Grade.PROCESSING),
        ("Vermont", 18.927, Grade.PROCESSING),
        ("United States", 18.86, Grade.PROCESSING),
        ("United States", 18.8, Grade.NEITHER),
        ("Canada", 20.0, Grade.PROCESSING),
        ("Ontario", 18.9, Grade.NEITHER),
        ("Canada", 19.9, Grade.NEITHER),
    ],
)
def test_processing_grade_needs_a_large_container(jurisdiction, litres, grade):
    sample = Sample(30.0, 67.0, off_flavour=True, container_litres=litres)
    assert judge(sample, jurisdiction).grade is grade


def test_processing_grade_says_which_container_it_will_need():
    judgement = judge(Sample(30.0, 67.0, off_flavour=True), "United States")
    assert judgement.grade is Grade.PROCESSING
    assert judgement.reasons[-1] == "containers must hold at least 18.9 L"


@pytest.mark.parametrize(
    ("brix", "reason"),
    [
        (66.5, "density is under the 66.9 Brix of Vermont"),
        (69.0, "density is over the 68.9 Brix of Vermont"),
    ],
)
@pytest.mark.parametrize("off_flavour", [True, False, None])
def test_density_outside_the_limits_is_neither_grade(brix, reason, off_flavour):
    judgement = judge(Sample(60.0, brix, off_flavour, clear=True), "Vermont")
    assert (judgement.grade, judgement.reasons) == (Grade.NEITHER, (reason,))


@pytest.mark.parametrize(
    ("sample", "reasons"),
    [
        (Sample(60.0, 66.5, clear=True), ("not tasted",)),
        (Sample(60.0, 66.5, off_flavour=False), ("clearness not looked at",)),
        (Sample(None, 66.5, False, True), ("colour not measured",)),
        (Sample(60.0, None, False, True), ("density not measured",)),
        (
            Sample(),
            (
                "density not measured",
                "colour not measured",
                "not tasted",
                "clearness not looked at",
            ),
        ),
        (
            Sample(60.0, None, off_flavour=True),
            ("off-flavour overrides colour", "density not measured"),
        ),
    ],
)
def test_what_is_not_known_leaves_the_grade_open(sample, reasons):
    judgement = judge(sample, "New York")
    assert (judgement.grade, judgement.reasons) == (Grade.UNJUDGED, reasons)


def test_an_impossible_container_is_refused():
    with pytest.raises(OutOfRange, match="container_litres must be at least 0, not -1"):
        judge(Sample(60.0, 66.5, off_flavour=True, container_litres=-1.0), "Maine")
