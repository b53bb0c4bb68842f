"""The seasons the books may be of."""

from django.db.models import Q

# A season typed as 26 or 20226 is a slip, and would found books of its own.
SEASON_RANGE = Q(season__gte=1900, season__lte=2200)
