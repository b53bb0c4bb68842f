"""What the numbers page knows of a formula, and how an area of the arithmetic collects them.

The words live beside a small function that works an example through the arithmetic itself, so
what an example comes to is never written down: it is what the arithmetic says today.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum


class Basis(Enum):
    """How surely a formula is known, in the words the page uses."""

    PUBLISHED = ("published", "good")
    COMPUTED = ("computed", "cold")
    PRACTICE = ("common practice, no source", "warn")
    MEMORY = ("from memory", "warn")

    def __init__(self, label: str, badge: str) -> None:
        self.label = label
        self.badge = badge


Figures = dict[str, str]


@dataclass(frozen=True)
class Worked:
    """An example worked just now: inputs and results, each with words and units."""

    given: Figures
    result: Figures

    # A template would take "items" for a key of the dictionary before it takes it for a method.
    @property
    def given_rows(self) -> list[tuple[str, str]]:
        return list(self.given.items())

    @property
    def result_rows(self) -> list[tuple[str, str]]:
        return list(self.result.items())


@dataclass(frozen=True)
class Entry:
    """One formula in use. `functions` are dotted names below apps.domain."""

    functions: tuple[str, ...]
    name: str
    formula: str
    units: str
    validity: str
    source: str
    basis: Basis
    example: Callable[[], Worked]

    @property
    def anchor(self) -> str:
        return self.functions[0].replace(".", "-")


@dataclass(frozen=True)
class Area:
    """A part of the arithmetic, under the name of its module."""

    module: str
    title: str
    entries: list[Entry] = field(default_factory=list)

    @property
    def anchor(self) -> str:
        return self.module.replace("_", "-")

    def explain(
        self,
        functions: str,
        name: str,
        *,
        formula: str,
        units: str,
        validity: str,
        source: str,
        basis: Basis,
    ) -> Callable[[Callable[[], Worked]], Callable[[], Worked]]:
        """Add the formula that the decorated example works; `functions` are names with spaces."""

        def keep(example: Callable[[], Worked]) -> Callable[[], Worked]:
            dotted = tuple(f"{self.module}.{function}" for function in functions.split())
            self.entries.append(
                Entry(dotted, name, formula, units, validity, source, basis, example)
            )
            return example

        return keep
