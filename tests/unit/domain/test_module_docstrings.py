"""Every module of arithmetic says its formula, units, range of validity and source."""

import ast
from pathlib import Path

import pytest

DOMAIN = Path(__file__).parents[3] / "apps" / "domain"
MODULES = sorted(path for path in DOMAIN.rglob("*.py") if path != DOMAIN / "__init__.py")


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(DOMAIN)))
@pytest.mark.parametrize("heading", ["Formula:", "Units:", "Validity:", "Source:"])
def test_a_module_states_what_it_rests_on(path, heading):
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    _, found, text = docstring.partition(heading)
    assert found
    assert len(text.split()) >= 2


def test_there_are_modules_to_read():
    assert len(MODULES) >= 20
