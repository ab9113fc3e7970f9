"""The headers that every answer carries, errors and files of our own included."""

from typing import Final

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing but what the package itself holds; no inline script, no style attribute, no frame."""
DOWNLOAD_POLICY: Final = (
    "default-src 'none'; sandbox; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What is handed out as a file is never shown as a page."""
COMMON: Final = (
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


def protective(policy: str = POLICY) -> list[tuple[bytes, bytes]]:
    """The headers of an answer under a content policy."""
    return [(b"content-security-policy", policy.encode("ascii")), *COMMON]
