"""The pages, one module each: the answer as the API gives it, and what the template needs besides."""
