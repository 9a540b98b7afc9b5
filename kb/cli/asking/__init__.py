"""Commands that ask a question."""
