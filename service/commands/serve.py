"""`limitwitness serve`: the service with its embedded database and workers, on one folder.

The web process starts its workers as processes of their own and starts one again that ends; each finishes
what it does when asked to stop. Nothing runs on after the web process is gone.
"""

import argparse
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import uvicorn

from service.commands.example import make_example
from service.compose import House, compose
from service.settings import Settings, settings_from
from service.telemetry.logs import set_up_logs
from service.use_cases.keep_registers import start_site

RESTART_PAUSE_S = 1.0
WEBSOCKET_MESSAGE = 400_000
"""Bytes of a message that are read at all; a stream takes less, and says so."""
WEBSOCKET_QUEUE = 4
"""Messages read ahead of a stream that hears more slowly; the rest waits at the device."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of `serve`."""
    parser.add_argument("--data", type=Path, metavar="DIR", help="folder of database, media and signing key")
    parser.add_argument(
        "--example", action="store_true", help="start with an example site, people and an open job"
    )
    parser.add_argument("--port", type=int, metavar="N", help="TCP port; 0 takes a free one")
    parser.add_argument(
        "--tls-cert", type=Path, metavar="F", help="certificate chain (PEM); phones need HTTPS"
    )
    parser.add_argument("--tls-key", type=Path, metavar="F", help="private key of the certificate (PEM)")
    parser.add_argument("--worker", metavar="NAME", help=argparse.SUPPRESS)


def run(options: argparse.Namespace) -> int:
    """Serve until asked to stop; returns 0."""
    settings = settings_from(options)
    set_up_logs(settings.log_level)
    house = compose(settings)
    if options.worker:
        return work(house, options.worker)
    with socket.create_server((settings.host, settings.port), backlog=256) as listening:
        server = _server(house, options)
        # uvicorn raises the signal again once it has closed its connections, and the workers come after that;
        # asked to stop before it listens to signals, it starts and ends at once.
        signal.signal(signal.SIGTERM, lambda *_: setattr(server, "should_exit", True))
        address = address_of(settings, listening, secure=options.tls_cert is not None)
        welcome(house, address, example=options.example)
        workers = Workers(settings)
        workers.start()
        try:
            server.run(sockets=[listening])
        finally:
            workers.stop()
            house.close()
    return 0


def address_of(settings: Settings, listening: socket.socket, *, secure: bool) -> str:
    """Return the address that people open."""
    if settings.public_address:
        return settings.public_address.rstrip("/")
    port = listening.getsockname()[1]
    return f"{'https' if secure else 'http'}://{settings.host}:{port}"


def welcome(house: House, address: str, *, example: bool) -> None:
    """Print the address, on first start the one-time administrator link, and what the example made."""
    if example:
        for line in make_example(house, address):
            print(line)
    started = None if example else start_site(house.ports, "Site")
    if started is not None:
        hours = house.settings.enrolment_life_s // 3600
        print(f"Administrator, once, within {hours} hours: {address}/invitation#{started[1]}")
    print(f"Signing key: {house.key.fingerprint}")
    print(f"Open {address}", flush=True)


def work(house: House, name: str) -> int:
    """Run one worker until it is asked to stop or its parent is gone."""
    parent, asked = os.getppid(), threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: asked.set())
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    house.worker(name).run(
        lambda: not asked.is_set() and os.getppid() == parent,
        lambda: time.sleep(house.settings.work_poll_s),
    )
    house.close()
    return 0


class Workers:
    """The worker processes of one service; one that ends is started again under the same name."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._names = [f"worker-{number}" for number in range(settings.workers)]
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._ending = threading.Event()
        self._watch = threading.Thread(target=self._keep_running, name="workers", daemon=True)

    def start(self) -> None:
        """Start the workers and watch over them."""
        for name in self._names:
            self._running[name] = self._start_one(name)
        self._watch.start()

    def stop(self) -> None:
        """Ask the workers to stop, and wait for what they are doing."""
        self._ending.set()
        self._watch.join()
        for process in self._running.values():
            process.terminate()
        for process in self._running.values():
            try:
                process.wait(timeout=self._settings.work_lease_s)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def _keep_running(self) -> None:
        while not self._ending.wait(RESTART_PAUSE_S):
            for name, process in list(self._running.items()):
                if process.poll() is not None:
                    self._running[name] = self._start_one(name)

    def _start_one(self, name: str) -> "subprocess.Popen[bytes]":
        command = [
            sys.executable,
            "-m",
            "service",
            "serve",
            "--data",
            str(self._settings.folder),
            "--worker",
            name,
        ]
        return subprocess.Popen(command)  # noqa: S603 - our own program with our own arguments


def _server(house: House, options: argparse.Namespace) -> uvicorn.Server:
    config = uvicorn.Config(
        house.app(),
        log_level="critical",  # defects are logged by the problem handler, with a number
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=20,
        ws_max_size=WEBSOCKET_MESSAGE,
        ws_max_queue=WEBSOCKET_QUEUE,
        ssl_certfile=options.tls_cert,
        ssl_keyfile=options.tls_key,
    )
    return uvicorn.Server(config)
