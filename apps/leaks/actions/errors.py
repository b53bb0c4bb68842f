"""What these actions refuse."""

from apps.leaks.models import Clearing, GaugeReading, LeakCheck, Obstruction, Photo


class NotYours(Exception):
    """Only the one who recorded something, or an owner, may take it back."""


class SentBefore(Exception):
    """The identifier belongs to another record of this kind; nothing was written."""

    def __init__(self, record: "LeakCheck | GaugeReading | Obstruction | Clearing | Photo") -> None:
        super().__init__(f"Already recorded as {record}.")
        self.record = record


class ReadingAlreadySet(Exception):
    """A check has its reading after the work already, or another one; it is not overwritten."""


class AnotherReading(Exception):
    """The pump house has a different reading at the very same moment."""

    def __init__(self, reading: GaugeReading) -> None:
        super().__init__(f"{reading} at {reading.read_at}")
        self.reading = reading
