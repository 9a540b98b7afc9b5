"""`python -m kb.cli` is `kb`, where the script is not on the path."""

from kb.cli import main

main(prog_name="kb")
