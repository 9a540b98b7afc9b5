"""`kb serve`: the web pages for a built file, on this machine or behind a proxy."""

from importlib import import_module

import click

from kb.cli.options import database_option


@click.command("serve")
@click.argument("file", required=False)
@database_option
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen on; 0.0.0.0 lets other machines in.")
@click.option("--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The port; 0 takes a free one.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="The number of processes; one for each core is plenty.")
@click.option("--base-url", default="/", show_default=True, metavar="PATH", help="The path under which a proxy shows the site.")
@click.option("--cors", is_flag=True, help="Let pages of other sites read the JSON.")
@click.option("--download", is_flag=True, help="Offer the whole file for download.")
@click.option("--seconds", type=click.FloatRange(0.1, 600), default=20.0, show_default=True, help="How many seconds one answer may take.")  # numeric
def command(file: str | None, db: str, host: str, port: int, workers: int, base_url: str, cors: bool, download: bool, seconds: float) -> None:
    """Serve a knowledge base that kb build wrote as web pages (Ctrl-C ends it).

    A bare FILE in place of --db FILE is understood for one more release.

    The pages only read. A new build of the file needs a restart, because a running server keeps answering from the file it opened.
    """
    if file is not None:
        click.echo("kb serve FILE is going away: name the file with --db FILE, or by KB_DB.", err=True)
    # By name, as any server loads an application: the command line and the pages stand side by side, neither on the other.
    web = import_module("kb.web.server")
    path = base_url.strip("/")
    setup = web.Setup(file or db, f"/{path}/" if path else "/", cors, download, seconds=seconds)
    web.start(setup, host, port, workers, lambda line: click.echo(line, err=True))
