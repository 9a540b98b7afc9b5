"""One maker's model, the likelihood of each kind of evidence, and the unit's posterior."""
