"""Commands that publish answers."""
