"""What to look at next, and what each outcome would mean."""
