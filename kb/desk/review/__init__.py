"""The archivist's questions: change-overs in full, learned readings, what changed between two knowledge bases."""
