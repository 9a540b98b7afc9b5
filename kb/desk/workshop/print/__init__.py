"""Pages to print and to keep on a phone: each one file with everything in it, no request to anywhere."""
