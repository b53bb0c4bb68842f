from typing import Any
from uuid import uuid4

from django import forms

from apps.domain.errors import DomainError
from apps.domain.tank import LARGEST_MM, DipTable
from apps.operation import display
from apps.operation.forms import QuantityField, UnitForm
from apps.sugarhouse.forms.base import EntryForm
from apps.sugarhouse.forms.sap import reading_field, tank_field, woodlot_field
from apps.sugarhouse.models import Tank

# In the order the sides are asked, and the database's check says the same by shape.
MEASURES = {
    Tank.Shape.VERTICAL: ("diameter", "height"),
    Tank.Shape.HORIZONTAL: ("diameter", "length"),
    Tank.Shape.OVAL: ("width", "height", "length"),
    Tank.Shape.BOX: ("width", "height", "length"),
    Tank.Shape.TABLE: (),
}
SIDES = ("diameter", "width", "height", "length")


class DipForm(EntryForm):
    """One look at one tank; the tank's shape says which depths it can have."""

    tank = tank_field(label="Tank", empty_label="Choose the tank")
    depth = reading_field("Depth of sap", "depth", high_si=LARGEST_MM)
    field_order = ("uuid", "tank", "depth", "at")

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if "tank" in cleaned and "depth" in cleaned:
            try:
                cleaned["tank"].measure().volume_litres(cleaned["depth"])
            except DomainError as error:
                self.add_error("depth", self.refusal(error))
        return cleaned


def side_field(label: str) -> QuantityField:
    return QuantityField("depth", label=label, required=False, low_si=1.0, high_si=LARGEST_MM)


class TankForm(UnitForm):
    """A tank's inside measures, those its shape needs, or its own dip table."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(max_length=80)
    woodlot = woodlot_field(empty_label="At the sugarhouse")
    shape = forms.ChoiceField(choices=Tank.Shape.choices)
    diameter = side_field("Inside diameter: round tanks")
    width = side_field("Inside width: oval and four-sided")
    height = side_field("Inside height: all but a round tank on its side")
    length = side_field("Inside length: all but a standing round tank")
    table = forms.CharField(
        label="Dip table",
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="Only for a tank by its own table. One line a point: depth, then volume.",
    )

    def __init__(self, *args: Any, tank: Tank | None = None, **kwargs: Any) -> None:
        self.tank = tank
        self.unit_system: str = kwargs["unit_system"]
        kwargs["initial"] = self._initial(tank) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        # A table is one text field, so the label has to carry both units.
        depth, volume = (self._unit(quantity).label for quantity in ("depth", "volume_fine"))
        self.fields["table"].label = f"Dip table ({depth}, {volume})"

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        # Refused for that already; without it no tank can be told from its own second submit.
        if "uuid" not in self.cleaned_data:
            return name
        same = Tank.objects.filter(name=name)
        if self.tank is not None:
            same = same.exclude(pk=self.tank.pk)
        # A second submit of the same form finds its own tank and is no clash.
        if same.exclude(uuid=self.cleaned_data["uuid"]).exists():
            raise forms.ValidationError("There is a tank of this name already.")
        return name

    def clean_table(self) -> tuple[tuple[float, float], ...]:
        lines = enumerate(self.cleaned_data["table"].splitlines(), start=1)
        return tuple(self._point(number, line) for number, line in lines if line.strip())

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        shape = cleaned.get("shape", "")
        for side in MEASURES.get(shape, ()):
            # A side typed badly has its message already.
            if side not in self.errors and cleaned.get(side) is None:
                self.add_error(side, "A tank of this shape needs this measure.")
        if shape == Tank.Shape.TABLE and "table" not in self.errors:
            self._check_table(cleaned["table"])
        return cleaned

    def _check_table(self, points: tuple[tuple[float, float], ...]) -> None:
        try:
            DipTable(points)
        except DomainError:
            self.add_error(
                "table", "Give two points or more, each deeper and fuller than the one before."
            )

    def values(self) -> dict[str, object]:
        """The tank's columns; a measure its shape does not need is left out, whatever was typed."""
        cleaned = self.cleaned_data
        needed = MEASURES[cleaned["shape"]]
        sides = {f"{side}_mm": cleaned[side] if side in needed else None for side in SIDES}
        plain = {name: cleaned[name] for name in ("uuid", "name", "woodlot", "shape")}
        return plain | sides

    def points(self) -> tuple[tuple[float, float], ...]:
        points: tuple[tuple[float, float], ...] = self.cleaned_data["table"]
        # Left over from another shape, a table would never be read but always be kept.
        return points if self.cleaned_data["shape"] == Tank.Shape.TABLE else ()

    def _point(self, number: int, line: str) -> tuple[float, float]:
        # Copied from paper or a sheet: comma, semicolon or space between the two.
        words = line.replace(",", " ").replace(";", " ").split()
        try:
            depth, volume = map(float, words)
        except ValueError as error:
            raise forms.ValidationError(
                f"Line {number} is not two numbers, depth then volume: “{line.strip()}”."
            ) from error
        return self._unit("depth").store(depth), self._unit("volume_fine").store(volume)

    def _unit(self, quantity: str) -> display.Unit:
        return display.unit_for(quantity, self.unit_system)

    def _initial(self, tank: Tank | None) -> dict[str, Any]:
        if tank is None:
            return {"uuid": uuid4()}
        sides = {side: getattr(tank, f"{side}_mm") for side in SIDES}
        points = sorted((point.depth_mm, point.litres) for point in tank.dip_points.all())
        plain = {"uuid": tank.uuid, "name": tank.name, "woodlot": tank.woodlot, "shape": tank.shape}
        return plain | sides | {"table": "\n".join(self._line(*point) for point in points)}

    def _line(self, depth_mm: float, litres: float) -> str:
        depth = display.shown_number(depth_mm, "depth", self.unit_system)
        return f"{depth:g}, {display.shown_number(litres, 'volume_fine', self.unit_system):g}"
