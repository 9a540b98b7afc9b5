"""Commands of those who keep a dataset."""
