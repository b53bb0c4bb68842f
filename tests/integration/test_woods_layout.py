"""The layout check against the published worked examples, and what it leaves unknown."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.operation.models import SettingValue
from apps.operation.queries import constants
from apps.woods import layout, queries
from apps.woods.layout_advice import ADVICE, COMPUTED, PUBLISHED
from tests.factories import woods
from tests.factories.operation import FIXED_NOW

FOOT, INCH = 0.3048, 25.4
CFM = FOOT**3 * 60


@pytest.fixture
def lot(db):
    return woods.woodlot("North")


@pytest.fixture
def house(lot):
    return woods.pump_house(lot)


def set_to(key, value):
    SettingValue.objects.create(key=key, value=str(value), changed_at=FIXED_NOW)


def checked(lot):
    return layout.check(queries.line_tree(lot, 2026), constants())


def findings(lot, label):
    (one,) = [one for one in checked(lot).lines if one.row.line.label == label]
    return [remark.finding for remark in one.remarks]


def unknown(lot, label):
    (one,) = [one for one in checked(lot).lines if one.row.line.label == label]
    return "; ".join(one.unchecked)


def lateral(lot, taps=5, feet=90, percent=6.0, **fields):
    length = feet * FOOT
    given = {"length_m": length, "fall_m": length * percent / 100} | fields
    return woods.line(lot, "L1", kind="lateral", planned_taps=taps, **given)


def mainline(lot, label="M1", *, taps=0, feet=900, percent=3.0, inches=1.0, **fields):
    length = feet * FOOT
    given = {"length_m": length, "fall_m": length * percent / 100, "diameter_mm": inches * INCH}
    return woods.line(lot, label, planned_taps=taps, **given | fields)


class TestTapsOnALateral:
    # Perkins and van den Berg (UVM), Maple News, 3 January 2020: aim for 5, never over 10.
    @pytest.mark.parametrize(
        ("taps", "says"),
        [
            (0, []),
            (5, []),
            (6, ["over the taps to aim for"]),
            (10, ["over the taps to aim for"]),
            (11, ["too many taps"]),
        ],
    )
    def test_follow_the_published_five_and_ten(self, lot, taps, says):
        lateral(lot, taps)
        assert findings(lot, "L1") == says

    def test_follow_the_owners_own_most(self, lot):
        set_to("woods.taps_per_lateral", 15)
        lateral(lot, 15)
        assert findings(lot, "L1") == ["over the taps to aim for"]

    def test_not_counted_are_not_nought(self, lot):
        lateral(lot, None)
        assert unknown(lot, "L1") == "taps: nobody counted them"


@pytest.mark.parametrize(
    ("feet", "percent", "says"),
    [(100, 5, []), (101, 5, ["too long"]), (100, 4.9, ["too flat"]), (90, -1, ["runs uphill"])],
)
def test_a_lateral_is_held_to_100_ft_and_5_percent(lot, feet, percent, says):
    # An equipment page without author or year, and said to be one.
    lateral(lot, 5, feet, percent)
    assert findings(lot, "L1") == says


class TestMainline:
    # 2 to 4 %: Perkins and van den Berg (2020); 0.5 % in short pieces only, UNH Extension.
    @pytest.mark.parametrize(
        ("percent", "says"),
        [
            (0.4, ["too flat"]),
            (1.9, ["flat, short pieces only"]),
            (2.0, []),
            (4.0, []),
            (4.1, ["steeper than needed"]),
            (-0.1, ["runs uphill"]),
        ],
    )
    def test_slope_follows_the_published_two_to_four_percent(self, lot, percent, says):
        mainline(lot, percent=percent)
        assert findings(lot, "M1") == says

    def test_is_at_most_1000_ft(self, lot):
        # UNH Extension.
        mainline(lot, feet=1000)
        mainline(lot, "M2", feet=1001)
        assert findings(lot, "M1") == []
        assert findings(lot, "M2") == ["too long"]

    # Manning by hand, half full, n 0.010: 1 in. at 2 % carries 117 gallons an hour, at 0.2 a tap
    # some 584 taps.
    @pytest.mark.parametrize(("taps", "says"), [(580, []), (590, ["more sap than it carries"])])
    def test_carries_the_sap_of_so_many_taps(self, lot, taps, says):
        mainline(lot, taps=taps, percent=2.0)
        assert findings(lot, "M1") == says

    def test_carries_half_as_many_taps_that_run_twice_as_hard(self, lot):
        set_to("woods.peak", 0.4 * 3.785411784)
        mainline(lot, taps=300, percent=2.0)
        assert findings(lot, "M1") == ["more sap than it carries"]

    def test_bears_the_taps_of_the_setting_and_no_more(self, lot):
        mainline(lot, taps=700, inches=2)
        mainline(lot, "M2", taps=701, inches=2)
        assert findings(lot, "M1") == []
        assert findings(lot, "M2") == ["more taps than a mainline bears"]

    def test_counts_the_taps_of_its_laterals(self, lot):
        main = mainline(lot, taps=0, inches=2)
        woods.line(lot, "L9", kind="lateral", parent=main, planned_taps=701)
        assert "more taps than a mainline bears" in findings(lot, "M1")

    def test_says_how_many_of_its_lines_are_not_counted(self, lot):
        woods.line(lot, "L9", kind="lateral", parent=mainline(lot))
        assert unknown(lot, "M1") == "taps: 1 lines are not counted yet"


class TestAir:
    def test_800_taps_at_1000_ft_on_a_1_in_line(self, lot, house):
        # Ober, OSU Extension (2013): 60 CFM leaves 8 CFM, 800 taps; the flow meets it within 5 %.
        set_to("woods.pump_m3_h", 60 * CFM)
        mainline(lot, taps=760, feet=1000, pump_house=house)
        mine = checked(lot).lines[0]
        assert mine.air_m3_h / CFM == pytest.approx(8, rel=0.05)
        assert "more taps than its air serves" not in findings(lot, "M1")
        mine.row.line.tap_counts.update(planned_taps=841)
        assert "more taps than its air serves" in findings(lot, "M1")

    def test_four_equal_lines_have_15_cfm_of_60_each(self, lot, house):
        # Ober, OSU Extension (2013): 15 CFM and 1,500 taps each in theory. So short and wide a
        # line lets its whole share through: the theory has no pipe.
        set_to("woods.pump_m3_h", 60 * CFM)
        for n in range(4):
            mainline(lot, f"M{n}", taps=1, feet=1, inches=4, pump_house=house)
        air = [one.air_m3_h / CFM for one in checked(lot).lines]
        assert air == pytest.approx([15] * 4, rel=0.01)

    def test_is_not_asked_without_the_pumps_air(self, lot, house):
        mainline(lot, taps=2000, feet=1000, pump_house=house)
        assert "more taps than its air serves" not in findings(lot, "M1")
        assert checked(lot).houses[0].pump_m3_h is None

    @pytest.mark.parametrize(
        ("lacking", "says"),
        [
            ({"diameter_mm": None}, "air: it is shared by diameter"),
            ({"length_m": None}, "air: no length"),
            ({"length_m": 30_000.0, "fall_m": None}, "air: length_m must be"),
        ],
    )
    def test_stays_unknown_on_a_line_not_measured(self, lot, house, lacking, says):
        set_to("woods.pump_m3_h", 60 * CFM)
        mainline(lot, pump_house=house, **lacking)
        assert says in unknown(lot, "M1")


class TestPump:
    # 1 CFM to 100 taps: UVM and OSU Extension.
    @pytest.mark.parametrize(("cfm", "short"), [(10, False), (9.9, True)])
    def test_is_held_against_its_taps(self, lot, house, cfm, short):
        set_to("woods.pump_m3_h", cfm * CFM * (1 + 1e-9))
        mainline(lot, taps=1000, pump_house=house)
        (own,) = checked(lot).houses
        assert own.need_m3_h / CFM == pytest.approx(10)
        assert own.short is short

    def test_wants_half_as_much_again_by_the_higher_advice(self, lot, house):
        # UNH Extension: 500 taps want 5 to 7.5 CFM.
        set_to("woods.taps_per_cfm", 100 / 1.5)
        mainline(lot, taps=500, pump_house=house)
        assert checked(lot).houses[0].need_m3_h / CFM == pytest.approx(7.5)

    def test_is_not_there_for_lines_without_a_house(self, lot):
        set_to("woods.pump_m3_h", CFM)
        mainline(lot, taps=1000)
        (none,) = checked(lot).houses
        assert (none.house, none.pump_m3_h, none.short) == (None, None, False)


class TestUnknown:
    @pytest.mark.parametrize(
        ("lacking", "says"),
        [
            ({"length_m": None}, "no length"),
            ({"fall_m": None}, "slope: no fall"),
            ({"length_m": 30_000.0, "fall_m": None}, "length_m must be between"),
            ({"fall_m": 1000.0}, "fall_m must be between"),
            ({"diameter_mm": None}, "no diameter"),
            ({"diameter_mm": 400.0}, "inner_diameter_mm must be between"),
        ],
    )
    def test_a_line_is_named_with_what_it_lacks(self, lot, lacking, says):
        mainline(lot, **lacking)
        assert says in unknown(lot, "M1")

    def test_length_and_fall_are_read_off_the_map(self, lot):
        # A hundredth of a degree of latitude is 1,112 m; it rises 33.36 m from the pump end: 3 %.
        path = [[-75.3, 43.90, 400.0], [-75.3, 43.91, 433.36]]
        line = woods.line(lot, "M1", geometry=path)
        length_m, fall_m = layout.measured(line)
        assert length_m == pytest.approx(1112, rel=0.001)
        assert fall_m == pytest.approx(33.36)

    def test_a_map_without_heights_gives_no_fall(self, lot):
        line = woods.line(lot, "M1", geometry=[[-75.3, 43.90], [-75.3, 43.91]])
        assert layout.measured(line)[1] is None


class TestConductors:
    def test_a_wet_one_alone_lacks_its_dry_one(self, lot):
        woods.line(lot, "W", kind="wet", planned_taps=0)
        assert findings(lot, "W") == ["no dry conductor beside it"]

    def test_a_wet_one_with_a_dry_one_is_sound(self, lot):
        woods.line(lot, "W", kind="wet", planned_taps=0)
        woods.line(lot, "D", kind="dry", planned_taps=0)
        assert findings(lot, "W") == []


@pytest.mark.parametrize(("key", "advice"), ADVICE.items(), ids=lambda part: str(part)[:40])
def test_every_limit_says_how_surely_it_is_known(key, advice):
    assert advice.basis in (PUBLISHED, COMPUTED, "common practice, no source")
    assert advice.why
    assert advice.takes
    assert advice.source or advice.basis == "common practice, no source"


class TestPage:
    def page(self, client, lot):
        response = client.get(reverse("woods:layout", args=[lot.pk]))
        assert response.status_code == 200
        return response.content.decode()

    def test_shows_the_figure_its_limit_and_the_source(self, owner_client, lot):
        lateral(lot, 11)
        shown = self.page(owner_client, lot)
        assert "Too many taps: 11, limit 10" in shown
        assert "Published: Perkins and van den Berg (UVM)" in shown

    def test_says_that_a_pump_is_not_known(self, owner_client, lot, house):
        mainline(lot, taps=1000, pump_house=house)
        shown = self.page(owner_client, lot)
        assert "want 10.0 CFM of air" in shown
        assert "Not checked: its pump" in shown

    def test_of_an_empty_woodlot_checks_nothing(self, owner_client, lot):
        assert "nothing to check" in self.page(owner_client, lot)

    def test_asks_the_database_as_much_of_many_lines_as_of_few(self, owner_client, lot):
        asked = []
        for count in (5, 200):
            other = woods.woodlot(f"Lot {count}")
            woods.many_lines(other, count)
            self.page(owner_client, other)
            with CaptureQueriesContext(connection) as queried:
                self.page(owner_client, other)
            asked.append(len(queried))
        assert asked[0] == asked[1]
