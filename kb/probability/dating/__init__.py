"""Casting dates: layouts, lead time, and the order of casting and assembly."""
