"""The wording of answers, for terminal, page and paper alike."""
