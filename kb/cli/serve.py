"""`kb serve`: the web pages for a built file, on this machine or behind a proxy."""

import os

import click


@click.command("serve")
@click.argument("file", envvar="KB_DB", default="kb.db")
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen at; 0.0.0.0 lets others in.")
@click.option("--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The port; 0 takes a free one.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes that answer; one for each core is plenty.")
@click.option("--base-url", default="/", show_default=True, metavar="PATH", help="The path under which a proxy shows the site.")
@click.option("--cors", is_flag=True, help="Let pages of other sites read the JSON.")
@click.option("--download", is_flag=True, help="Offer the whole file for download.")
@click.option("--seconds", type=click.FloatRange(0.1, 600), default=20.0, show_default=True, help="How long one answer may take.")
def command(file: str, host: str, port: int, workers: int, base_url: str, cors: bool, download: bool, seconds: float) -> None:
    """Serve FILE, a knowledge base that kb build wrote, as web pages (Ctrl-C ends it).

    The pages only read. A new build of the file needs a restart: a running server keeps answering from the one it opened.
    """
    from kb.web.server import SETUP, serve
    from kb.web.site import Setup, Site

    setup = Setup(file, "/" + base_url.strip("/") + "/" if base_url.strip("/") else "/", cors, download, seconds=seconds)
    site = Site(setup)  # says at once if it is not a knowledge base
    os.environ[SETUP] = setup.to_json()
    click.echo(f"{file}: build {site.build}, program version {site.version}.", err=True)
    if site.has_private:
        click.echo("It holds private columns (observers, evidence, offers). Build with --public before others may look.", err=True)
    serve(host, port, workers, lambda at: click.echo(f"http://{at}{setup.base_url}  (Ctrl-C ends it)", err=True))
