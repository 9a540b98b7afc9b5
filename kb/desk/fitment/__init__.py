"""Does a part fit: rules, joint table, verdicts, which parts, which units."""
