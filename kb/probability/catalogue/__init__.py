"""Fitments, supersession, part numbers, dimensions, shims, hazards."""
