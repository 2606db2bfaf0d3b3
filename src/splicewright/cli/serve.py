"""serve: the web app."""

from __future__ import annotations

from pathlib import Path

import click

from splicewright.cli.answers import FILE, answering, count_option


@click.command("serve")
@click.option(
    "--register",
    "where",
    envvar="SPLICEWRIGHT_REGISTER",
    default="",
    help="File, or postgresql:// URL, of the register; made when it is not there. Without it: the "
    "one in your data folder, or the invented example site.",
)
@click.option("--site", type=FILE, default=None, help="Folder of an example site to open instead.")
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address or name to listen on."
)
@count_option("--port", 0, 65535, 8750, "Port to listen on; 0 takes any that is free.")
@click.option("--tls-certificate", type=FILE, default=None, help="Certificate (PEM) for HTTPS.")
@click.option("--tls-key", type=FILE, default=None, help="Key (PEM) of the certificate.")
@click.option("--behind-proxy", is_flag=True, help="A proxy in front does HTTPS.")
@click.option("--address", default="", help="What people type, such as https://belts.example.org.")
@click.option("--admin-link", is_flag=True, help="Print a link that makes one more admin.")
@count_option(
    "--workers",
    0,
    16,
    1,
    "Processes beside it for background tasks; 0 where `splicewright background` runs elsewhere.",
)
@answering
def serve_command(
    where: str,
    site: Path | None,
    host: str,
    port: int,
    tls_certificate: Path | None,
    tls_key: Path | None,
    behind_proxy: bool,
    address: str,
    admin_link: bool,
    workers: int,
) -> None:
    """Serve the web app: the register on phones and desks."""
    import gc

    from splicewright.web.start import Reach, serve

    gc.enable()  # `run` stops it for commands that live for a second
    reach = Reach(host, port, tls_certificate, tls_key, behind_proxy, address)
    serve(where, site, reach, click.echo, admin_link=admin_link, workers=workers)
