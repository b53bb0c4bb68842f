"""Thawline's rooms, one package each; the import contracts in pyproject.toml say who may lean on whom."""
