"""The probability model: arrays and rules. It opens no file, knows no SQL and makes no sentence (docs/model.md)."""
