"""The next days as one small drawing: a bar a day, its word under it; measures are of the SVG.

Drawn without a script, so that it costs a phone nothing; the table beside it has the numbers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.outlook.likelihood import RunDay

STEP, BAR, TALLEST, TOP = 36, 22, 48, 22
# Where one forecast alone gives a word and no percentage, the bar has the height of its word.
BY_WORD = {"low": 1 / 6, "medium": 1 / 2, "high": 5 / 6}
SHORT = {"low": "low", "medium": "med", "high": "high"}


@dataclass(frozen=True)
class Bar:
    """One day of the drawing; an unknown day has no bar."""

    day: RunDay
    left: int
    middle: int
    top: int
    height: int
    word: str


@dataclass(frozen=True)
class Strip:
    """The bars in order, with the size of the whole drawing and the lines to put words on."""

    bars: tuple[Bar, ...]
    width: int
    day_line: int = 14
    base_line: int = TOP + TALLEST
    word_line: int = TOP + TALLEST + 15
    night_line: int = TOP + TALLEST + 31
    height: int = TOP + TALLEST + 38
    bar: int = BAR


def strip(days: Sequence[RunDay]) -> Strip:
    bars = tuple(_bar(day, STEP * place) for place, day in enumerate(days))
    return Strip(bars, width=STEP * len(bars))


def _bar(day: RunDay, left: int) -> Bar:
    share = day.likelihood.percentage
    if share is None:
        share = BY_WORD[day.word] if day.word else 0.0
    height = round(TALLEST * share)
    return Bar(
        day=day,
        left=left + (STEP - BAR) // 2,
        middle=left + STEP // 2,
        top=TOP + TALLEST - height,
        height=height,
        word=SHORT[day.word] if day.word else "?",
    )
