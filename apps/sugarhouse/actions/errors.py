class SugarhouseError(Exception):
    """The books cannot take this."""


class NotEnoughSap(SugarhouseError):
    """More sap is asked for than is there; `there_litres` is what there is."""

    def __init__(self, wanted_litres: float, there_litres: float) -> None:
        super().__init__(f"{wanted_litres:.1f} L wanted, {there_litres:.1f} L there")
        self.wanted_litres = wanted_litres
        self.there_litres = there_litres


class NoSapToBoil(SugarhouseError):
    """A batch needs some sap."""


class SapAlreadyUsed(SugarhouseError):
    """Some of this sap was boiled, sold or dumped, so its record stays."""


class SugarKnown(SugarhouseError):
    """This sap has a sugar reading already, and another figure at that."""


class DipTaken(SugarhouseError):
    """This tank has a dip at that very moment already."""
