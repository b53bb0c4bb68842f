class NotForCrew(Exception):
    """Only an owner may say which phones are taken in."""


class Refused(Exception):
    """One record is not kept: which of its fields is at fault, if any, and why in plain words."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field
        self.reason = reason
