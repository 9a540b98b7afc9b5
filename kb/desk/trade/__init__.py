"""The counter: search, sale, stock, listings, lists of inquiries."""
