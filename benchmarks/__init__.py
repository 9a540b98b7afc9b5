"""How fast things are, as ratios to a named baseline measured in the same run. `make bench` runs them all."""
