"""Do the tests of the arithmetic notice a wrong? Each mutant against its module's own tests.

Everything happens in throw-away copies of the arithmetic and its tests, two at a time. Random
tests run from a fixed seed there, so that a mutant's fate does not change from run to run.
"""

import multiprocessing
import os
import queue
import shutil
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.soak.mutants import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
SURVIVORS = Path(__file__).with_name("survivors.toml")
COPIED = (
    "apps/domain",
    "tests/unit/domain",
    "tests/bench",
    "fixtures/open_data",
    "fixtures/reference",
)
TOGETHER = 2
KILLED_SHARE = 0.9
PASSED = 0
# A mutant can loop for ever; the slowest honest run takes a tenth of this on a busy machine.
PATIENCE_SECONDS = 120
# Read by the copied tests in place of their own: no random seed, no search for a smaller example.
CONFTEST = """from hypothesis import Phase, settings
settings.register_profile("mutation", deadline=None, derandomize=True, database=None,
                          max_examples=40, phases=(Phase.explicit, Phase.generate))
settings.load_profile("mutation")
"""
# Modules imported before pytest starts cannot be rewritten by it, and need not be.
INI = """[pytest]
filterwarnings =
    error
    ignore::pytest.PytestAssertRewriteWarning
"""


@dataclass(frozen=True)
class Subject:
    """A module of the arithmetic and the test files that must notice wrongs in it."""

    module: str
    tests: tuple[str, ...]

    @property
    def package(self) -> str:
        """The module, or the package that it is a part of: what the share killed is asked of."""
        return self.module.partition("/")[0]

    @property
    def path(self) -> str:
        return f"apps/domain/{self.module}.py"


def _own(module: str, *tests: str) -> Subject:
    return Subject(module, tuple(f"tests/unit/domain/{name}.py" for name in tests))


SUBJECTS = (
    _own("allocation", "test_allocation"),
    _own("sugar", "test_sugar", "test_sugar_chain", "test_reference_tables"),
    _own(
        "leak_ranking",
        "test_leak_ranking",
        "test_leak_ranking_walks",
        "test_ranking_words",
        "test_limits",
    ),
    *(
        _own(f"tapping/{part}", "test_tapping", "test_tapping_edges", "test_limits")
        for part in ("back_plan", "cold", "guideline", "pace", "reforecast", "seasons")
    ),
)


class TestsFailUnmutated(RuntimeError):
    """The tests fail on the code as it stands, so they cannot judge a mutant."""

    __test__ = False


@dataclass(frozen=True)
class Fate:
    """What became of a mutant."""

    subject: Subject
    mutant: Mutant
    killed: bool


def explained(path: Path = SURVIVORS) -> dict[str, dict[str, str]]:
    """Module by module, the survivors that are known and why each is no missing test."""
    return tomllib.loads(path.read_text())


def mutants(subject: Subject) -> list[Mutant]:
    return mutants_of((ROOT / subject.path).read_text())


def judge(subject: Subject, chosen: Iterable[Mutant]) -> list[Fate]:
    """The fate of each mutant of a module, in the order given.

    Raises TestsFailUnmutated when the module's tests do not pass before anything is changed.
    """
    with _trees() as trees:
        tree = trees.get()
        if _exit_code(tree, subject) != PASSED:
            raise TestsFailUnmutated(subject.path)
        trees.put(tree)
        with ThreadPoolExecutor(TOGETHER) as pool:
            return list(pool.map(lambda mutant: _fate(trees, subject, mutant), chosen))


@contextmanager
def _trees() -> Iterator["queue.Queue[Path]"]:
    trees: queue.Queue[Path] = queue.Queue()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(TOGETHER):
            trees.put(_copy(Path(folder) / str(number)))
        yield trees


def _copy(tree: Path) -> Path:
    for folder in COPIED:
        shutil.copytree(ROOT / folder, tree / folder, ignore=shutil.ignore_patterns("__pycache__"))
    for package in ("apps", "tests", "tests/unit"):
        (tree / package / "__init__.py").touch()
    (tree / "tests/unit/domain/conftest.py").write_text(CONFTEST)
    (tree / "pytest.ini").write_text(INI)
    return tree


def _fate(trees: "queue.Queue[Path]", subject: Subject, mutant: Mutant) -> Fate:
    tree = trees.get()
    module = tree / subject.path
    honest = module.read_text()
    try:
        module.write_text(mutant.source)
        code = _exit_code(tree, subject)
    finally:
        module.write_text(honest)
        trees.put(tree)
    return Fate(subject, mutant, killed=code != PASSED)


def _exit_code(tree: Path, subject: Subject) -> int | None:
    """How the tests ended in a process of their own; None when they had to be stopped."""
    process = _processes().Process(target=_run_tests, args=(str(tree), subject.tests))
    process.start()
    process.join(PATIENCE_SECONDS)
    if process.is_alive():
        process.kill()
        process.join()
        return None
    return process.exitcode


def _processes() -> multiprocessing.context.BaseContext:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    # What every run imports is imported once, and each run starts as a copy of that.
    context.set_forkserver_preload(["pytest", "hypothesis", "numpy", "iapws"])
    return context


def _run_tests(tree: str, tests: tuple[str, ...]) -> None:
    import pytest

    os.chdir(tree)
    # Two mutants of one size within a second would share a compiled file.
    sys.dont_write_bytecode = True
    sys.path[:] = [tree, *(folder for folder in sys.path if Path(folder or ".") != ROOT)]
    for name in list(sys.modules):
        if name.split(".")[0] in ("apps", "tests"):
            del sys.modules[name]
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        os.dup2(nowhere.fileno(), 2)
    # Tests of speed judge the machine and are left out.
    quiet = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:django", "-k", "not bare"]
    sys.exit(pytest.main([*quiet, *tests]))
