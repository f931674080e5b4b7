"""`tilegen desk`: the local page."""

from __future__ import annotations

import socket
import threading
import webbrowser

import typer

from tilegen.errors import InputError

HOST = "127.0.0.1"


def run_desk(port: int, *, browser: bool, quiet: bool) -> None:
    """Serve the page on this machine until it is stopped.

    Raises:
        InputError: the extra is not installed, or the port is taken.
    """
    try:
        import uvicorn  # noqa: PLC0415 - an extra

        from tilegen.desk.app import make_app  # noqa: PLC0415
    except ModuleNotFoundError as error:
        raise InputError(
            f"no {error.name}", expected="the extra desk", cure="pip install 'tilegen[desk]'", place="tilegen desk"
        ) from None
    listening = listen(port)
    port = listening.getsockname()[1]
    address = f"http://{HOST}:{port}/"
    if not quiet:
        typer.echo(f"The desk is at {address} (this machine only). Ctrl+C ends it; the plan stays in the browser.")
    if browser:
        threading.Timer(0.8, webbrowser.open, (address,)).start()
    config = uvicorn.Config(make_app(port), log_level="warning", lifespan="on", timeout_keep_alive=30)
    uvicorn.Server(config).run(sockets=[listening])


def listen(port: int) -> socket.socket:
    """A socket on this machine only; port 0: any that is free."""
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((HOST, port))
    except OSError as error:
        found.close()
        raise InputError(
            f"port {port}: {error.strerror}", expected="a free port", cure="choose another with --port", place="--port"
        ) from None
    return found
