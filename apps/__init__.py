"""Thawline's rooms, one package each; pyproject.toml says who may lean on whom."""
