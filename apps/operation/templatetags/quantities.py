"""{% quantity line.length_m "length" %}: a stored SI value in the operation's units."""

from typing import Any

from django import template

from apps.operation import display

register = template.Library()


@register.simple_tag(takes_context=True)
def quantity(
    context: dict[str, Any], value_si: float | None, name: str, decimals: int | None = None
) -> str:
    return display.shown(value_si, name, context["operation"].unit_system, decimals)


@register.simple_tag(takes_context=True)
def bare(
    context: dict[str, Any], value_si: float | None, name: str, decimals: int | None = None
) -> str:
    """The number alone, for a table whose heading names the unit: a phone is narrow."""
    return quantity(context, value_si, name, decimals).removesuffix(unit(context, name)).rstrip()


@register.simple_tag(takes_context=True)
def unit(context: dict[str, Any], name: str) -> str:
    return display.unit_for(name, context["operation"].unit_system).label
