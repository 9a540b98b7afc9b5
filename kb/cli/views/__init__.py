"""Answers as text for a terminal, one module an answer. They say what the answer says and decide nothing."""
