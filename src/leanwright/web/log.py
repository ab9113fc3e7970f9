"""What happened, one event a line as JSON, in a file that only its owner can read."""

import json
import logging
import secrets
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Final

LARGEST_BYTES: Final = 4 << 20
KEPT_FILES: Final = 5
NAME: Final = "leanwright.web"


class _OneLine(logging.Formatter):
    """An event as one line of JSON: control characters are escaped, so no event can look like two."""

    def format(self, record: logging.LogRecord) -> str:
        event = {
            "time": datetime.fromtimestamp(record.created, UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "more", {}),
        }
        if record.exc_info:
            event["details"] = self.formatException(record.exc_info)
        return json.dumps(event, ensure_ascii=True)


def open_log(folder: Path) -> logging.Logger:
    """The log of a folder; it is made, private, if it is not there."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    place = folder / "serve.jsonl"
    place.touch(mode=0o600)
    handler = RotatingFileHandler(place, maxBytes=LARGEST_BYTES, backupCount=KEPT_FILES, encoding="utf-8")
    handler.setFormatter(_OneLine())
    # One of its own for each server: the library would keep every logger that it is asked for by name.
    log = logging.Logger(f"{NAME}.{secrets.token_hex(4)}", logging.INFO)  # noqa: LOG001  see above
    log.addHandler(handler)
    return log


def close_log(log: logging.Logger) -> None:
    """Close its file."""
    for handler in log.handlers:
        handler.close()


def error_number() -> str:
    """A number by which an error is found in the log; it tells nothing else."""
    return f"E-{secrets.token_hex(5).upper()}"


def tell(log: logging.Logger, event: str, **more: object) -> None:
    """Note an event with its particulars."""
    log.info(event, extra={"more": more})


def tell_fault(log: logging.Logger, number: str, error: BaseException, **more: object) -> None:
    """Note what went wrong, with all details, under its number."""
    log.error("fault", exc_info=error, extra={"more": {"number": number, **more}})
