"""The mutation campaign itself: what it changes, what it leaves alone, what it calls wrong."""

import ast

import pytest

from tests.soak import __main__ as campaign
from tests.soak import mutation
from tests.soak.mutants import Mutant, mutants_of
from tests.soak.mutation import Fate, Subject

ALLOCATION = mutation.SUBJECTS[0]
EQUIVALENT = "shares: True -> False in strict=True"


def _keys(source):
    return [mutant.key for mutant in mutants_of(source)]


@pytest.mark.parametrize(
    ("source", "keys"),
    [
        ("a = b + c", ["module: b + c -> (b) - (c) in a = b + c"]),
        ("a = b < c", ["module: b < c -> b <= c in a = b < c"]),
        ("a = b and c", ["module: b and c -> (b) or (c) in a = b and c"]),
        ("a = not b", ["module: not b -> b in a = not b"]),
        ("A = 2", ["module: 2 -> 3 in A = 2"]),
        ("A = 0.32", ["module: 0.32 -> 0.64 in A = 0.32"]),
        ("A = 0.0", ["module: 0.0 -> 1.0 in A = 0.0"]),
        ("A = True", ["module: True -> False in A = True"]),
        ("A = 'lost'", ["module: 'lost' -> 'lost~' in A = 'lost'"]),
        ("guard(a)", ["module: guard(a) -> pass"]),
        ("a += b", ["module: a += b -> a -= b"]),
        ("def f():\n    return a", ["f: return a -> return None"]),
        ("def f():\n    return None", ["f: return None -> return 1"]),
    ],
)
def test_each_kind_of_wrong_is_put_in(source, keys):
    assert _keys(source) == keys


@pytest.mark.parametrize(
    "source",
    [
        '"""Words."""',
        "import math",
        "def f(a: float | None) -> int | None:\n    pass",
        "Verdict = Literal['yes', 'no']",
        "def f():\n    raise Refused(f'{a} of 3')",
        "__all__ = ['a']",
        "@dataclass(frozen=True)\nclass A:\n    b: Final[int]",
    ],
)
def test_words_types_and_decorators_are_left_alone(source):
    assert _keys(source) == []


def test_only_the_changed_place_differs_from_the_source():
    source = "# ° before it\nA = 1 + 2  # after\nB = (\n    3\n)\n"
    changed = [mutant.source for mutant in mutants_of(source)]
    assert changed[0] == source.replace("1 + 2", "((1) - (2))")
    assert changed[-1] == source.replace("3", "(4)")


def test_equal_changes_of_one_function_are_numbered():
    assert _keys("a = b(1)\na = b(1)")[1].endswith("(2)")


def test_a_key_does_not_change_when_lines_move():
    source = "def f():\n    return a + 1"
    assert _keys(f"\n\n# later\n{source}") == _keys(source)


@pytest.mark.parametrize("subject", mutation.SUBJECTS, ids=lambda subject: subject.module)
def test_every_mutant_of_the_arithmetic_is_a_program_and_has_its_own_key(subject):
    mutants = mutation.mutants(subject)
    honest = ast.dump(ast.parse((mutation.ROOT / subject.path).read_text()))
    assert len({mutant.key for mutant in mutants}) == len(mutants) > 5
    for mutant in mutants:
        assert ast.dump(ast.parse(mutant.source)) != honest, mutant.key


def test_the_campaign_covers_every_module_of_its_packages():
    covered = {subject.path for subject in mutation.SUBJECTS}
    parts = (mutation.ROOT / "apps/domain/tapping").glob("*.py")
    named = {f"apps/domain/tapping/{part.name}" for part in parts} - {
        "apps/domain/tapping/__init__.py"
    }
    assert named < covered
    for module in ("allocation", "leak_ranking", "sugar"):
        assert f"apps/domain/{module}.py" in covered


def test_every_explained_survivor_is_a_mutant_of_today():
    today = {
        subject.module: {mutant.key for mutant in mutation.mutants(subject)}
        for subject in mutation.SUBJECTS
    }
    for module, reasons in mutation.explained().items():
        assert set(reasons) <= today[module], module
        assert all(len(reason.split()) > 3 for reason in reasons.values())


@pytest.fixture(scope="module")
def fates():
    mutants = mutation.mutants(ALLOCATION)
    doubtful = mutation.explained()["allocation"]
    certain = [mutant for mutant in mutants if mutant.key not in doubtful]
    equivalent = [mutant for mutant in mutants if mutant.key == EQUIVALENT]
    return mutation.judge(ALLOCATION, [*certain[::14], *equivalent])


class TestASliceOfTheCampaign:
    """A few mutants of the allocation, so that the campaign cannot rot between soaks."""

    def test_wrongs_are_noticed(self, fates):
        assert len(fates) >= 5
        assert [fate.mutant.key for fate in fates[:-1] if not fate.killed] == []

    def test_what_changes_nothing_is_not_called_a_wrong(self, fates):
        assert (fates[-1].mutant.key, fates[-1].killed) == (EQUIVALENT, False)

    def test_tests_that_do_not_run_judge_nothing(self):
        nowhere = Subject("allocation", ("tests/unit/domain/test_nowhere.py",))
        with pytest.raises(mutation.TestsFailUnmutated, match="allocation"):
            mutation.judge(nowhere, mutation.mutants(nowhere))


def _fates(killed, alive):
    dead = [Fate(ALLOCATION, Mutant(f"dead {at}", 1, ""), True) for at in range(killed)]
    return dead + [Fate(ALLOCATION, Mutant(f"alive {at}", 7, ""), False) for at in range(alive)]


class TestTheReport:
    def test_a_survivor_is_shown_with_its_line_and_reason(self, capsys):
        assert campaign.tell(ALLOCATION, _fates(9, 1), {"alive 0": "Changes nothing."}) == []
        shown = capsys.readouterr().out
        assert "apps/domain/allocation.py: 9 of 10 killed" in shown
        assert "line 7, alive 0\n    Changes nothing." in shown

    def test_a_survivor_without_a_reason_is_wrong(self):
        wrong = campaign.tell(ALLOCATION, _fates(9, 1), {})
        assert wrong == ["apps/domain/allocation.py: not explained: alive 0"]

    def test_a_reason_without_its_survivor_is_wrong(self):
        wrong = campaign.tell(ALLOCATION, _fates(10, 0), {"alive 0": "Changes nothing."})
        assert wrong == ["apps/domain/allocation.py: did not survive: alive 0"]

    @pytest.mark.parametrize(("killed", "alive", "enough"), [(90, 10, True), (89, 11, False)])
    def test_nine_in_ten_must_be_killed(self, killed, alive, enough):
        assert (campaign.too_few(_fates(killed, alive)) == []) is enough

    @pytest.mark.parametrize(("reasons", "code"), [({"alive 0": "Nothing."}, 0), ({}, 1)])
    def test_the_campaign_ends_in_an_error_when_something_is_wrong(
        self, monkeypatch, reasons, code
    ):
        monkeypatch.setattr(mutation, "judge", lambda subject, mutants: _fates(9, 1))
        monkeypatch.setattr(mutation, "explained", lambda: {"allocation": reasons})
        assert campaign.main(["allocation"]) == code
