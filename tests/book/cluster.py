"""A PostgreSQL cluster of the tests' own: Debian's package, an unprivileged user, a temporary folder, no network."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg
import pytest

OWNER = "book_owner"
WRITER = "book_writer"
INDEX_CHECK = "SELECT public.bt_index_parent_check(%s, true, true)"
TABLE_CHECK = "SELECT * FROM public.verify_heapam(%s)"


def quick_folder() -> str:
    """A folder in memory if there is room: what a kill leaves behind is the same there, and flushing costs nothing."""
    memory = Path("/dev/shm")  # noqa: S108  a folder of a random name is made in it
    roomy = memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > 1 << 30
    return str(memory) if roomy else tempfile.gettempdir()


def programs() -> Path | None:
    """The folder of PostgreSQL's programs, the newest version's."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).resolve().parent if on_path else None


class Cluster:
    """A running cluster; it listens on a socket in its own folder only."""

    def __init__(self, bin_folder: Path) -> None:
        self.bin = bin_folder
        self.folder = Path(tempfile.mkdtemp(prefix="lw-pg-", dir=quick_folder()))
        self.user: int | None = None
        if os.geteuid() == 0:
            self.user = pwd.getpwnam("postgres").pw_uid
            os.chown(self.folder, self.user, pwd.getpwnam("postgres").pw_gid)
        self.data = self.folder / "data"
        self.count = 0
        self.server: subprocess.Popen[bytes] | None = None
        self._run(
            "initdb",
            "-D",
            str(self.data),
            "-U",
            "postgres",
            "-A",
            "trust",
            "-k",
            "-E",
            "UTF8",
            "--locale=C",
            "-N",
        )
        self.new = True

    def start(self) -> None:
        """Start the server, wait until it answers, and make the roles the first time."""
        command = [
            str(self.bin / "postgres"),
            *("-D", str(self.data), "-k", str(self.folder), "-c", "listen_addresses="),
            *("-c", "shared_buffers=16MB", "-c", "max_connections=40", "-c", "logging_collector=off"),
        ]
        with (self.folder / "log").open("ab") as log:
            self.server = subprocess.Popen(
                command, user=self.user, cwd=self.folder, stdout=subprocess.DEVNULL, stderr=log
            )
        for _ in range(300):
            try:
                self._answer()
            except psycopg.OperationalError:
                time.sleep(0.05)
            else:
                return
        pytest.fail(f"PostgreSQL did not start:\n{(self.folder / 'log').read_text('utf-8')}")

    def _answer(self) -> None:
        with self._admin() as connection:
            if self.new:
                connection.execute(f"CREATE ROLE {OWNER} LOGIN CREATEDB")
                connection.execute(f"CREATE ROLE {WRITER} LOGIN")
                self.new = False

    def kill(self) -> None:
        """Kill the server and everything it started, as a power cut would."""
        assert self.server is not None
        children = Path(f"/proc/{self.server.pid}/task/{self.server.pid}/children")
        tasks = children.read_text("ascii").split() if children.exists() else []
        for pid in (self.server.pid, *map(int, tasks)):
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.server.wait(timeout=30)
        (self.data / "postmaster.pid").unlink(missing_ok=True)

    def stop_at_once(self) -> None:
        """Stop the server without tidying up: it has to recover when it starts again ("immediate" in its manual)."""
        assert self.server is not None
        self.server.send_signal(signal.SIGQUIT)
        self.server.wait(timeout=30)

    def spoil(self, place: str, relation: str, at: int = 6000) -> None:
        """Change some bytes of a table or an index, behind the server's back; by itself in the middle of the first page."""
        with self._admin() as connection:
            connection.execute("CHECKPOINT")
            found = connection.execute("SELECT pg_relation_filepath(%s)", (f"{place}.{relation}",)).fetchone()
        assert found is not None
        self.kill()
        with (self.data / str(found[0])).open("r+b") as stream:
            stream.seek(at)
            stream.write(b"spoiled bytes")
        self.start()

    def own_findings(self, place: str) -> list[str]:
        """What PostgreSQL's own checks of structure (amcheck) find in the tables and indexes of a schema.

        Page checksums are left out of it: what is found is found by the checks of the structure alone.
        """
        with self._admin() as connection:
            connection.execute("CREATE EXTENSION IF NOT EXISTS amcheck SCHEMA public")
            connection.execute("SET ignore_checksum_failure = on")
            relations = connection.execute(
                "SELECT c.oid::int, c.relname, c.relkind = 'i' FROM pg_class c WHERE c.relkind IN ('r', 'i')"
                " AND c.relnamespace = %s::regnamespace ORDER BY c.relname",
                (place,),
            ).fetchall()
            assert {is_index for _, _, is_index in relations} == {True, False}
            found = []
            for number, name, is_index in relations:
                try:
                    rows = connection.execute(INDEX_CHECK if is_index else TABLE_CHECK, (number,)).fetchall()
                except psycopg.Error as error:
                    found.append(f"{name}: {error}")
                else:
                    found += [f"{name}: {row}" for row in rows if not is_index]
        return found

    def stop(self) -> None:
        """Stop the server and remove the folder."""
        if self.server is not None:
            self.kill()
        shutil.rmtree(self.folder, ignore_errors=True)

    def new_place(self) -> str:
        """Make an empty schema, and give its name."""
        self.count += 1
        name = f"book{self.count}"
        with self._admin() as connection:
            connection.execute(f"CREATE SCHEMA {name} AUTHORIZATION {OWNER}")
        return name

    def address(self, place: str, role: str = OWNER) -> str:
        """The address of a schema for a role."""
        return f"postgresql:///postgres?host={self.folder}&user={role}&options=-csearch_path%3D{place}"

    def _admin(self) -> "psycopg.Connection[tuple[object, ...]]":
        return psycopg.connect(f"host={self.folder} user=postgres dbname=postgres", autocommit=True)

    def _run(self, program: str, *arguments: str) -> None:
        done = subprocess.run(
            [str(self.bin / program), *arguments],
            user=self.user,
            cwd=self.folder,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode != 0:
            pytest.fail(f"{program} failed: {done.stderr}")
