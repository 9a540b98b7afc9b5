"""What a unit is, what a loose casting is off, whether the castings belong together, and what is odd about the evidence."""
