"""The posterior, events, verdicts, information gain: arrays only."""
