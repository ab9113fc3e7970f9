"""The commands of the book as a user calls them, in this process."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Call = Callable[..., "Outcome"]


@dataclass(frozen=True)
class Outcome:
    """What a command did."""

    code: int
    out: str
    err: str


@dataclass
class Commands:
    """The commands on one book."""

    call: Call
    folder: Path

    @property
    def place(self) -> str:
        """The book's file."""
        return str(self.folder / "book.sqlite")

    def __call__(self, *words: str, stdin: str = "") -> tuple[int, str, str]:
        """Run a command on the book."""
        done = self.call("book", *words, "--book", self.place, stdin=stdin.encode())
        return done.code, done.out, done.err

    def add(self, kind: str, body: Any, *words: str) -> dict[str, Any]:
        """Add an entry, and give what was printed."""
        code, out, err = self("add", kind, "--json", "-", *words, stdin=json.dumps(body))
        assert (code, err) == (0, "")
        return dict(json.loads(out))

    def refused(self, *words: str, stdin: str = "") -> str:
        """The sentence of a refusal, after checking its form and that nothing was written."""
        before = self("list", "--json")
        code, out, err = self(*words, stdin=stdin)
        assert (code, out) == (2, "")
        assert err.startswith("leanwright: ")
        assert err.count("\n") == 1
        assert self("list", "--json") == before
        return err
