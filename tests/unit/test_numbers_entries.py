"""Nothing in the arithmetic is missing from the numbers page, and nothing there is stale."""

import importlib
import inspect
import pkgutil
import sys

import pytest

import apps.domain
from apps.operation import numbers
from apps.operation.numbers.entry import Area, Basis, Worked

GUARD = "refuses an input at the door and computes nothing"
PROMISE = "says what every tank can; the shapes do the arithmetic"
LEFT_OUT = {
    "errors.require_range": GUARD,
    "vacuum.refuse_unknown_model": GUARD,
    "tapping.pace.require_working_week": GUARD,
    "tank.Tank.full_litres": PROMISE,
    "tank.Tank.volume_litres": PROMISE,
    "tank.Tank.depth_mm": PROMISE,
}
ENTRIES = [entry for area in numbers.AREAS for entry in area.entries]
EXPLAINED = [function for entry in ENTRIES for function in entry.functions]
BY_NAME = pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.anchor)
WORDS = ("name", "formula", "units", "validity", "source")


def _public(holder):
    return {name: found for name, found in vars(holder).items() if not name.startswith("_")}


def _code(found):
    """The code of a function, method or property; None for anything else."""
    if isinstance(found, property):
        found = found.fget
    if isinstance(found, staticmethod | classmethod):
        found = found.__func__
    return found.__code__ if inspect.isfunction(found) else None


def _computations(package):
    """Dotted name below the package -> code, for every public function, method and property."""
    codes = {}
    for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        module, short = importlib.import_module(info.name), info.name[len(package.__name__) + 1 :]
        for name, found in _public(module).items():
            if getattr(found, "__module__", None) != info.name:
                continue
            inside = _public(found) if inspect.isclass(found) else {}
            candidates = {name: found} | {f"{name}.{own}": held for own, held in inside.items()}
            codes |= {f"{short}.{path}": _code(held) for path, held in candidates.items()}
    return {name: code for name, code in codes.items() if code is not None}


COMPUTATIONS = _computations(apps.domain)


def _called_by(example):
    """The code objects that run while an example is worked."""
    ran = set()
    before = sys.getprofile()
    sys.setprofile(lambda frame, event, _: ran.add(frame.f_code) if event == "call" else None)
    try:
        example()
    finally:
        sys.setprofile(before)
    return ran


def test_every_public_computation_has_an_entry():
    assert COMPUTATIONS.keys() - set(EXPLAINED) == LEFT_OUT.keys()


def test_no_entry_names_what_no_longer_exists():
    assert set(EXPLAINED) - COMPUTATIONS.keys() == set()


def test_nothing_is_explained_twice():
    assert len(EXPLAINED) == len(set(EXPLAINED))


def test_discovery_sees_functions_methods_and_properties():
    assert len(COMPUTATIONS) > 150
    for name in ("sugar.density_kg_m3", "tank.Box.volume_litres", "run_plan.supply.Night.pan_brix"):
        assert name in COMPUTATIONS


def test_discovery_names_a_function_where_it_is_defined_and_not_where_it_is_imported():
    assert "concentration.density_kg_m3" not in COMPUTATIONS
    assert "tapping.back_plan.back_plan" in COMPUTATIONS


@BY_NAME
def test_an_entry_says_everything(entry):
    for word in WORDS:
        assert getattr(entry, word).strip(), word
    assert isinstance(entry.basis, Basis)


@BY_NAME
def test_an_example_runs_every_function_that_it_explains(entry):
    ran = _called_by(entry.example)
    silent = [name for name in entry.functions if COMPUTATIONS[name] not in ran]
    assert silent == []


@BY_NAME
def test_an_example_shows_what_went_in_and_what_came_out(entry):
    worked = entry.example()
    assert worked.given
    assert worked.result
    for figure in (*worked.given.values(), *worked.result.values()):
        assert figure.strip()
        assert "nan" not in figure.lower().split()


@BY_NAME
def test_a_source_is_as_sure_as_its_badge(entry):
    named = {
        Basis.PRACTICE: "common practice, no source" in entry.source
        or "common practice, no formula" in entry.source,
        Basis.MEMORY: "from memory" in entry.source,
        # A publication is named with its year, its table or its section.
        Basis.PUBLISHED: any(mark.isdigit() for mark in entry.source),
        Basis.COMPUTED: True,
    }
    assert named[entry.basis], entry.source


def test_names_and_anchors_are_told_apart():
    anchors = [entry.anchor for entry in ENTRIES] + [area.anchor for area in numbers.AREAS]
    assert len(anchors) == len(set(anchors))
    for area in numbers.AREAS:
        names = [entry.name for entry in area.entries]
        assert len(names) == len(set(names)), area.title


def test_every_area_is_named_for_a_module_of_the_arithmetic():
    for area in numbers.AREAS:
        assert importlib.import_module(f"apps.domain.{area.module}")
        assert area.entries


def test_an_area_keeps_what_it_is_told_in_order():
    area = Area("sugar", "Sugar")
    words = {"formula": "a", "units": "b", "validity": "c", "source": "d", "basis": Basis.COMPUTED}
    for name in ("first", "second"):
        area.explain(name, name, **words)(lambda: Worked({"in": "1"}, {"out": "2"}))
    assert [entry.functions for entry in area.entries] == [("sugar.first",), ("sugar.second",)]
    assert area.entries[0].anchor == "sugar-first"


def test_every_formula_is_counted_once_by_how_surely_it_is_known():
    assert sum(count for _, count in numbers.how_surely()) == len(ENTRIES)
