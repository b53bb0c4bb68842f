"""Every constraint was tried: the database refused something by each while these tests ran."""

from pathlib import Path

import pytest

from tests.integration.conftest import Refusals, constraints

HERE = Path(__file__).parent


def _whole_folder_runs(session) -> bool:
    running = {Path(item.path).name for item in session.items if item.path.parent == HERE}
    return {path.name for path in HERE.glob("test_*constraints*.py")} <= running


def test_the_database_refused_something_by_every_constraint(request, refusals):
    if not _whole_folder_runs(request.session):
        pytest.skip("only part of the folder runs, so not every constraint can have been tried")
    missing = sorted({name for name, _ in constraints()} - refusals.names)
    assert not missing, "no test makes the database refuse by: " + ", ".join(missing)


@pytest.mark.parametrize(
    ("message", "name"),
    [
        ("CHECK constraint failed: woodlot_area_positive", "woodlot_area_positive"),
        (
            'relation "woods_woodlot" violates check constraint "woodlot_area_positive"',
            "woodlot_area_positive",
        ),
        (
            'duplicate key value violates unique constraint "line_label_once_per_woodlot"',
            "line_label_once_per_woodlot",
        ),
        (
            "UNIQUE constraint failed: woods_line.woodlot_id, woods_line.label",
            "line_label_once_per_woodlot",
        ),
        ("UNIQUE constraint failed: index 'one_refresh_at_a_time'", "one_refresh_at_a_time"),
    ],
)
def test_both_engines_words_are_understood(message, name):
    noted = Refusals()
    noted.note(message)
    assert noted.names == {name}
