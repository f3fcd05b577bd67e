"""`limbwright serve`: the workbench on this machine, in the browser."""

import gc
from pathlib import Path

import click

from limbwright.cli import options, show
from limbwright.error import Refused

DEFAULT_PORT = 8765


@click.command("serve")
@options.home
@options.database
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to listen on.",
)
@click.option("--port", type=click.IntRange(1, 65535), default=DEFAULT_PORT, show_default=True, help="Port.")
@click.option(
    "--also-known-as",
    "other_hosts",
    multiple=True,
    metavar="NAME[:PORT]",
    help="Further name under which browsers reach the server.",
)
@click.option("--open-demo", is_flag=True, help="Put the invented demo cases into the store first.")
def command(
    *, home: Path, database: str | None, host: str, port: int, other_hosts: tuple[str, ...], open_demo: bool
) -> None:
    """Serve the workbench to browsers until interrupted."""
    import uvicorn

    from limbwright.cli.demo_store import fill_with_demo
    from limbwright.store.store import open_store
    from limbwright.web.app import create_app
    from limbwright.web.settings import Settings

    settings = Settings(home=home, database=database, host=host, port=port, other_hosts=other_hosts)
    with open_store(home, database=database) as store:
        if not settings.on_loopback and not any(user.active for user in store.users.all()):
            raise Refused(
                f"{host} can be reached by other machines, and there is no user with a password.",
                where="serve",
                next_step="Add one with `limbwright user NAME --may sign`, or serve on 127.0.0.1.",
            )
        if open_demo:
            with show.progress("Taking the films of the invented cases"):
                fill_with_demo(store)
        name = f"[{host}]" if ":" in host else host
        show.console().print(f"Workbench at http://{name}:{port}/ (stop with Ctrl+C)", markup=False)
        show.caution()
        app = create_app(settings, store=store)
        # What was imported stays for good; without this a collection in the middle of a drag walks all of it.
        gc.collect()
        gc.freeze()
        uvicorn.run(
            app,
            host=host,
            port=port,
            log_level="warning",
            access_log=False,  # addresses of requests name cases; the audit log is kept in the store
            server_header=False,
            date_header=True,
            timeout_keep_alive=30,
            limit_concurrency=200,
        )
