"""What a piece of evidence means in this knowledge base: names, second looks."""
