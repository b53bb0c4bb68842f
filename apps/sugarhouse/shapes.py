"""From the key of a shape and the sides of a row to the tank that the arithmetic knows.

Units: mm. Validity: as apps.domain.tank.
"""

from apps.domain import tank as tanks


def by_shape(
    shape: str, *, diameter_mm: float, length_mm: float, width_mm: float, height_mm: float
) -> tanks.Tank:
    """The tank as the arithmetic knows it; DomainError for a side it needs and has not (0)."""
    if shape == "vertical":
        return tanks.VerticalCylinder(diameter_mm=diameter_mm, height_mm=height_mm)
    if shape == "horizontal":
        return tanks.HorizontalCylinder(diameter_mm=diameter_mm, length_mm=length_mm)
    if shape == "oval":
        return tanks.FlatOval(width_mm=width_mm, height_mm=height_mm, length_mm=length_mm)
    return tanks.Box(width_mm=width_mm, length_mm=length_mm, height_mm=height_mm)
