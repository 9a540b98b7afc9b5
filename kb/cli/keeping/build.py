"""`kb build`: from dataset folders to one database file."""

import sys
from pathlib import Path

import click

from kb.cli.options import force_option, json_option


@click.command("build")
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o", "--db", metavar="FILE", default="kb.db", envvar="KB_DB", show_envvar=True, show_default=True,
    help="The file to write; an older one is replaced.",
)  # fmt: skip
@click.option("--public", is_flag=True, help="Leave out private columns and files (observers, evidence, offers, outcomes).")
@force_option
@json_option
@click.pass_context
def command(ctx: click.Context, folders: tuple[Path, ...], db: str, public: bool, force: bool, as_json: bool) -> None:
    """Build the database from the dataset in FOLDER..., if it has no errors.

    Several folders are layers (club data, my shop's stock, my notes): their rows add up, and a later row with the same key
    replaces the earlier one. The same input gives the same file, byte for byte; after an error the older file is left as it was.
    """
    from kb.cli.show import echo_json
    from kb.cli.views.findings import built, findings, plain, replaced
    from kb.store.build import build
    from loaders.folder import load

    loaded = load(folders)
    if loaded.wrong:
        if as_json:
            echo_json(plain(loaded))
        else:
            findings(loaded.findings, loaded.counts)
        ctx.exit(1)
    report = build(
        loaded.dataset,
        db,
        public=public,
        extras=loaded.extras,
        pictures=loaded.pictures,
        problems=loaded.problems,
        progress=_progress if sys.stderr.isatty() else None,
        force=force,
    )
    if as_json:
        echo_json({**plain(loaded), "file": str(report.path), "bytes": report.size, "digest": report.digest, "public": report.public})
    else:
        replaced(loaded.replaced)
        findings(loaded.findings, loaded.counts)
        built(report)


def _progress(what: str, done: int, steps: int) -> None:
    """One line on the terminal that is overwritten, and gone at the end."""
    click.echo(f"\r\x1b[2K{done * 100 // steps:3} %  {what}" if done < steps else "\r\x1b[2K", err=True, nl=False)
