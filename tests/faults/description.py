"""A description of the workbench in OpenAPI 3, made from its own table of addresses: nothing is listed twice."""

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from leanwright.web.bodies import FORM, UPLOAD
from leanwright.web.visit import Entry

QUERY = ("after", "also", "before", "engine", "from", "job", "of", "order", "power", "put", "r", "saved")
"""What pages read from an address; anything may stand there."""
STATUSES = ("200", "303", "400", "403", "404", "405", "409", "410", "413", "414", "415", "422", "429", "431")
"""What an address may answer to someone with a session: an error of the server is not among it."""
LEADS_ON = "303"
"""Answered to what is done, with the address of what came of it."""
ENTRY = "/book/entries/([0-9]+)"
IMPORT = "/imports/([0-9a-f]+)"
LEADS = {
    "/recordings": {"import": IMPORT},
    "/imports/{import}": {"recording": "[?&]r=([0-9a-f]+)"},
    "/imports/{import}/stop": {"import": IMPORT},
    "/recordings/{recording}/sweeps": {"recording": "/recordings/([0-9a-f]+)"},
    "/balance/enter": {"entry": ENTRY},
    "/book/notes": {"entry": ENTRY},
    "/book/entries/{entry}/correct": {"entry": ENTRY},
    "/book/entries/{entry}/void": {"entry": ENTRY},
    "/book/new/{kind}": {"entry": "[?&]saved=([0-9]+)"},
}
"""What the address in such an answer names: the place in a path that it fills, and how it is found there."""
PAGE, BYTES, PRINTED = "text/html", "application/octet-stream", "application/pdf"
FILES = {
    "/static/{name}": "text/css",
    "/recordings/{recording}/trace": BYTES,
    "/recordings/{recording}/file": BYTES,
    "/balance/sheet": PRINTED,
    "/card/sheet": PRINTED,
    "/sheets/{kind}": PRINTED,
    "/papers/{kind}/file": BYTES,
    "/pack": "application/zip",
    "/book/backups/{name}": BYTES,
    "/returns/calendar": "text/calendar",
}
"""What is no page, and its kind."""
Described = dict[str, Any]


def description(table: Iterable[Entry], known: Mapping[str, list[str]]) -> Described:
    """Every address of a table. ``known`` holds names that lead somewhere, by their place in a path or a query."""
    entries = list(table)
    forms = {entry.form for entry in entries if entry.post}
    (_, shapes) = msgspec.json.schema_components(forms, ref_template="#/components/schemas/{name}")
    return {
        "openapi": "3.0.3",
        "info": {"title": "Workbench", "version": "1"},
        "paths": {entry.path: operations(entry, known, links(entry, entries)) for entry in entries},
        "components": {"schemas": shapes},
    }


def links(entry: Entry, entries: Iterable[Entry]) -> Described:
    """From what one address leads on: to everything that can be asked of what it made or changed."""
    found: Described = {}
    for name, where in LEADS.get(entry.path, {}).items():
        taken = {name: f"$response.header.Location#regex:{where}"}
        for other in entries:
            for method in ("get", "post"):
                if name in other.example and getattr(other, method):
                    called = f"{method} {other.path}"
                    found[called] = {"operationId": called, "parameters": taken}
    return found


def operations(entry: Entry, known: Mapping[str, list[str]], links: Described) -> Described:
    """What can be asked of one address."""
    answers: Described = {
        status: {"description": "as it should be", "content": {PAGE: {}}} for status in STATUSES
    }
    answers[LEADS_ON] = {"description": "done", "links": links}
    path = [
        {**parameter(name, "path", [example, *known.get(name, [])]), "example": example}
        for name, example in entry.example.items()
    ]
    found: Described = {}
    if entry.get:
        shown = {**answers, "200": {"description": "shown", "content": {FILES.get(entry.path, PAGE): {}}}}
        query = [parameter(name, "query", known.get(name, [])) for name in QUERY]
        found["get"] = {"operationId": f"get {entry.path}", "parameters": [*path, *query], "responses": shown}
    if entry.post:
        found["post"] = {
            "operationId": f"post {entry.path}",
            "parameters": path,
            "requestBody": body(entry),
            "responses": answers,
        }
    return found


def parameter(name: str, where: str, known: list[str]) -> Described:
    """Something in an address: a name that leads somewhere, or any text."""
    text = {"type": "string", "minLength": int(where == "path"), "maxLength": 80}
    kinds = [{"type": "string", "enum": known}, text] if known else [text]
    return {"name": name, "in": where, "required": where == "path", "schema": {"anyOf": kinds}}


def body(entry: Entry) -> Described:
    """What a form sends to an address, with files where it takes them."""
    (shape,), _ = msgspec.json.schema_components([entry.form], ref_template="#/components/schemas/{name}")
    content: Described = {FORM: {"schema": shape}}
    if entry.uploads:
        files = {"type": "array", "maxItems": 2, "items": {"type": "string", "format": "binary"}}
        content[UPLOAD] = {"schema": {"type": "object", "properties": {"files": files}}}
    return {"required": True, "content": content}
