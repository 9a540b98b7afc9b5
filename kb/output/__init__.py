"""What the program writes: the kinds of files it makes, and how one of them takes the place of another."""
