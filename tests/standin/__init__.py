"""A weather service of our own: invented temperatures, the real service's manners and faults."""

from tests.standin.server import StandIn

__all__ = ["StandIn"]
