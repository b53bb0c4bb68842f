"""Tamarack Hollow Sugaring, an invented operation: the same farm and the same seasons each time."""
