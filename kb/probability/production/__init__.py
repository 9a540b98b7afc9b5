"""Series, blocks and their order; lineages of variants; change-overs; the table of cells."""
