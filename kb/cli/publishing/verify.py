"""`kb verify`: prove that a knowledge base file is whole, on any machine."""

from pathlib import Path

import click

from kb.cli.options import json_option


@click.command("verify")
@click.argument("file", envvar="KB_DB", default="kb.db", type=click.Path(path_type=Path))
@json_option
def command(file: Path, as_json: bool) -> None:
    """Look at every byte and every reference of FILE, a knowledge base that kb build wrote.

    Exit code 0: it is what was built. 1: it is damaged, of another format, or not a knowledge base. The SHA-256 digest is for comparing
    it with a copy elsewhere.
    """
    from kb.cli.show import echo_json
    from kb.store.verify import verify_database

    whole = verify_database(file)
    if as_json:
        echo_json({
            "file": str(whole.path), "sha256": whole.sha256, "dataset_digest": whole.dataset_digest, "program_version": whole.program_version,
            "public": whole.public, "rows": whole.rows,
        })  # fmt: skip
        return
    click.echo(f"{whole.path} is whole: {sum(whole.rows.values()):,} rows in {sum(map(bool, whole.rows.values()))} tables.")
    click.echo(f"  sha256   {whole.sha256}")
    click.echo(f"  dataset  {whole.dataset_digest}")
    click.echo(f"  built by version {whole.program_version}{', for the public' if whole.public else ', with private columns'}")
