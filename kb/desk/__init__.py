"""The questions people ask, a room each."""
