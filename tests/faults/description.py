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
Described = dict[str, Any]


def description(table: Iterable[Entry], known: Mapping[str, list[str]]) -> Described:
    """Every address of a table. ``known`` holds names that lead somewhere, by their place in a path or a query."""
    entries = list(table)
    forms = {entry.form for entry in entries if entry.post}
    (_, shapes) = msgspec.json.schema_components(forms, ref_template="#/components/schemas/{name}")
    return {
        "openapi": "3.0.3",
        "info": {"title": "Workbench", "version": "1"},
        "paths": {entry.path: operations(entry, known) for entry in entries},
        "components": {"schemas": shapes},
    }


def operations(entry: Entry, known: Mapping[str, list[str]]) -> Described:
    """What can be asked of one address."""
    answers = {status: {"description": "as it should be"} for status in STATUSES}
    path = [
        parameter(name, "path", [example, *known.get(name, [])]) for name, example in entry.example.items()
    ]
    found: Described = {}
    if entry.get:
        query = [parameter(name, "query", known.get(name, [])) for name in QUERY]
        found["get"] = {"parameters": [*path, *query], "responses": answers}
    if entry.post:
        found["post"] = {"parameters": path, "requestBody": body(entry), "responses": answers}
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
