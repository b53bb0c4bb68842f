"""What would change the answer: the same evening asked again with one thing different.

Formula: the recommendation is redone for each variant; the change is the move of the window's last
day.
Units: whole days, later over 0.
Validity: one thing at a time. A variant without a window, or against an answer without one, has no
move in days, only its own stage.
Source: arithmetic on the same evening, nothing from outside.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from apps.domain.start_guidance.recommend import Guidance, Question, Stage, Window, recommend


@dataclass(frozen=True)
class Change:
    """A variant by name: its window, stage, and the days the last day to start moves."""

    name: str
    stage: Stage
    window: Window | None
    days: int | None

    @property
    def days_moved(self) -> int | None:
        """How far it moves, either way."""
        return None if self.days is None else abs(self.days)

    @property
    def changes(self) -> bool:
        return self.days != 0


def what_changes(told: Guidance, variants: Iterable[tuple[str, Question]]) -> tuple[Change, ...]:
    """Each variant's answer beside the one told."""
    return tuple(_change(told, name, recommend(question)) for name, question in variants)


def _change(told: Guidance, name: str, other: Guidance) -> Change:
    if told.window is None or other.window is None:
        same = told.window is other.window and told.stage == other.stage
        return Change(name, other.stage, other.window, 0 if same else None)
    return Change(name, other.stage, other.window, (other.window.last - told.window.last).days)
