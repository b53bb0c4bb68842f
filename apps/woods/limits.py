"""What can be believed of a line, in SI, for whatever hands it in: a form or a sheet."""

ELEVATION_M = (-100.0, 5000.0)
LENGTH_M = (0.01, 50_000.0)
FALL_M = (-1000.0, 1000.0)
DIAMETER_MM = (1.0, 1000.0)
WALK_MINUTES = (0.1, 600.0)
SEASON = (1900, 2200)
PLANNED_TAPS = (0, 20_000)
LABEL_LETTERS = 24
