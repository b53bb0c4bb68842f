"""Every constant the owner may change, with its default, its limits and where it came from."""

from dataclasses import dataclass

from apps.domain import units

PRACTICE = "common practice, no source"
OWN = "the owner's own figure, none is assumed"
WEAK = "from memory, weak: 0.1 to 0.4 gallons"
AIR = "UVM Extension; Ober, OSU Extension (2013). UNH Extension says 67 to 100"


@dataclass(frozen=True)
class Constant:
    """One number in use; `quantity` names a row of display.QUANTITIES, values are SI.

    Without a default it is unknown until the owner sets it, and pages say what they lack.
    """

    key: str
    label: str
    default: float | None
    low: float
    high: float
    quantity: str
    source: str
    group: str


@dataclass(frozen=True)
class Choice:
    """One named alternative in use."""

    key: str
    label: str
    default: str
    options: tuple[tuple[str, str], ...]
    source: str
    group: str


def _inhg(value: float) -> float:
    return float(units.kpa_from_inhg(value))


def _fahrenheit(value: float) -> float:
    return float(units.celsius_from_fahrenheit(value))


def _gallons(value: float) -> float:
    return float(units.litres_from_us_gallons(value))


CONSTANTS = (
    Constant(
        "tapping.pace_bare",
        "Pace, snow under 12 in.",
        100,
        1,
        1000,
        "taps_per_pair_hour",
        PRACTICE,
        "Tapping",
    ),
    Constant(
        "tapping.pace_knee",
        "Pace, snow 12 to 24 in.",
        80,
        1,
        1000,
        "taps_per_pair_hour",
        PRACTICE,
        "Tapping",
    ),
    Constant(
        "tapping.pace_deep",
        "Pace, snow over 24 in.",
        60,
        1,
        1000,
        "taps_per_pair_hour",
        PRACTICE,
        "Tapping",
    ),
    Constant("tapping.pairs", "Pairs tapping", 2, 1, 20, "count", PRACTICE, "Tapping"),
    Constant(
        "tapping.hours_per_day", "Hours tapping a day", 6, 1, 16, "hours", PRACTICE, "Tapping"
    ),
    Constant("tapping.lost_days", "Days lost to weather", 2, 0, 30, "count", PRACTICE, "Tapping"),
    Constant(
        "tapping.accept_missing",
        "First runs we accept to miss, in 10 seasons",
        2,
        0,
        9,
        "count",
        PRACTICE,
        "Tapping",
    ),
    Constant(
        "tapping.cold_limit_c",
        "No tapping under (air)",
        _fahrenheit(10),
        -40,
        10,
        "temperature",
        PRACTICE,
        "Tapping",
    ),
    Constant(
        "tapping.wind_chill_limit_c",
        "No tapping under (wind chill)",
        _fahrenheit(-10),
        -60,
        10,
        "temperature",
        PRACTICE,
        "Tapping",
    ),
    Constant(
        "start.frozen_days",
        "Frozen days ahead, then warm, that mean start now: about",
        10,
        3,
        16,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.warm_end_c",
        "Warm at the end of them is at or over",
        _fahrenheit(40),
        0,
        20,
        "temperature",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.best_tapping_c",
        "Taps go in while all is frozen, around",
        _fahrenheit(20),
        -30,
        0,
        "temperature",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.plan_days",
        "Freeze-thaw days within so many days mean time to plan",
        10,
        1,
        16,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.wait_out_days",
        "A warm spell at most so many days off is waited out",
        2,
        0,
        10,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.trusted_days",
        "Days of the forecast a first run is read from",
        7,
        1,
        16,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.first_run_warmth",
        "Warmth since the last hard freeze before a first run, until your own years fit one",
        100,
        0,
        1500,
        "degree_hours",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.season_shortest_days",
        "A season lasts at least",
        10,
        1,
        200,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.season_longest_days",
        "A season lasts at most",
        92,
        1,
        200,
        "count",
        PRACTICE,
        "Start date",
    ),
    Constant(
        "start.ageing_low",
        "Of a season's sap, lost for each week a hole waits: at least",
        None,
        0,
        1,
        "share",
        OWN,
        "Start date",
    ),
    Constant(
        "start.ageing_high",
        "Of a season's sap, lost for each week a hole waits: at most",
        None,
        0,
        1,
        "share",
        OWN,
        "Start date",
    ),
    Constant(
        "weather.freeze_c",
        "A freeze is at or under",
        -1.1,
        -10,
        5,
        "temperature",
        PRACTICE,
        "Weather",
    ),
    Constant(
        "weather.thaw_c", "A thaw is at or over", 2.2, -5, 15, "temperature", PRACTICE, "Weather"
    ),
    Constant(
        "weather.lapse_c_per_m",
        "Colder by height",
        0.0065,
        0,
        0.02,
        "lapse",
        "ICAO standard atmosphere: 6.5 °C per km",
        "Weather",
    ),
    Constant(
        "leaks.gain_per_inhg",
        "Sap gained per inch of vacuum",
        0.05,
        0.01,
        0.2,
        "share",
        "Wilmot (UVM), Maple News, 25 January 2018: about 5 %",
        "Leaks",
    ),
    Constant(
        "leaks.target_vacuum_kpa",
        "Target vacuum at the line end",
        _inhg(26),
        _inhg(5),
        _inhg(29.9),
        "vacuum",
        PRACTICE,
        "Leaks",
    ),
    Constant(
        "leaks.sap_litres_per_tap_day",
        "Sap per tap on a running day, at target",
        _gallons(0.9),
        0.1,
        40,
        "volume_fine",
        PRACTICE,
        "Leaks",
    ),
    Constant("leaks.walk_minutes", "Walk to a line", 30, 1, 600, "minutes", PRACTICE, "Leaks"),
    Constant("leaks.fix_minutes", "Fix a leak", 15, 1, 600, "minutes", PRACTICE, "Leaks"),
    Constant(
        "leaks.gauge_slack_kpa",
        "A gauge reads wrong when over the ceiling by",
        _inhg(0.5),
        0,
        _inhg(5),
        "vacuum",
        PRACTICE,
        "Leaks",
    ),
    Constant(
        "sugarhouse.usable_share",
        "Usable share of a tank",
        0.97,
        0.5,
        1,
        "share",
        PRACTICE,
        "Sugarhouse",
    ),
    Constant(
        "sugarhouse.syrup_brix",
        "Syrup density drawn",
        66.0,
        66.0,
        68.9,
        "brix",
        "7 CFR 52.5961-62: 66.0 to 68.9 at 68 °F",
        "Sugarhouse",
    ),
    Constant(
        "season.syrup_price",
        "What syrup fetches, as you sell most of it",
        None,
        0.1,
        1000,
        "price_per_volume",
        OWN,
        "Season",
    ),
    Constant(
        "season.day_cost",
        "What one more day open costs: crew, fuel, power",
        None,
        0,
        1_000_000,
        "money_per_day",
        OWN,
        "Season",
    ),
    Constant(
        "outlook.brief_hour",
        "The morning brief is mailed from, hours after midnight",
        5,
        0,
        11,
        "hours",
        PRACTICE,
        "Morning brief",
    ),
    Constant(
        "woods.taps_per_lateral",
        "Most taps on a lateral",
        10,
        1,
        200,
        "count",
        "Perkins and van den Berg (UVM), Taking care of the woods, 2020: aim for 5, not over 10",
        "Woods",
    ),
    Constant(
        "woods.main_taps", "Most taps on a mainline", 700, 10, 20_000, "count", PRACTICE, "Woods"
    ),
    Constant(
        "woods.peak", "Sap a tap, best hour", _gallons(0.2), 0.1, 9, "volume_fine", WEAK, "Woods"
    ),
    Constant(
        "woods.taps_per_cfm", "Taps that 1 CFM of air serves", 100, 10, 1000, "count", AIR, "Woods"
    ),
    Constant(
        "woods.pump_m3_h", "Air of each pump at its vacuum", None, 1, 5000, "air_flow", OWN, "Woods"
    ),
)

CHOICES = (
    Choice(
        "leaks.loss_model",
        "How sap lost grows with lost vacuum",
        "linear",
        (("linear", "Linear in the deficit"), ("compounding", "Compounding per inch")),
        "Perkins and van den Berg, Maple News, 3 January 2020: 2-3 in. more gives 10-15 % (linear)",
        "Leaks",
    ),
    Choice(
        "tapping.rest_day",
        "Day of rest while tapping",
        "sunday",
        (("none", "None"), ("saturday", "Saturday"), ("sunday", "Sunday")),
        PRACTICE,
        "Tapping",
    ),
)

JURISDICTIONS = (
    ("US", "United States"),
    ("US-NY", "New York"),
    ("US-VT", "Vermont"),
    ("US-NH", "New Hampshire"),
    ("US-ME", "Maine"),
    ("CA", "Canada"),
    ("CA-ON", "Ontario"),
    ("CA-QC", "Quebec"),
)

BY_KEY: dict[str, Constant | Choice] = {row.key: row for row in (*CONSTANTS, *CHOICES)}
