"""The SQLite file: schema, build, and everything that reads it."""
