"""What a form sends, read within the limits: too big, too slow, packed or of another kind is refused before it is kept."""

import asyncio
from collections.abc import AsyncGenerator
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl

from python_multipart.exceptions import FormParserError
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException, MultiPartParser
from starlette.requests import ClientDisconnect, Request

from leanwright.web import refusal
from leanwright.web.limits import LIMITS, Limits
from leanwright.web.refusal import RefusedError

FORM: Final = "application/x-www-form-urlencoded"
UPLOAD: Final = "multipart/form-data"


@dataclass(frozen=True, slots=True)
class Sent:
    """The fields of a form in their order, and the files that came with it."""

    fields: tuple[tuple[str, str], ...]
    files: tuple[UploadFile, ...] = ()

    def first(self, name: str) -> str:
        """The first value of a field; empty where there is none."""
        return next((value for key, value in self.fields if key == name), "")


@asynccontextmanager
async def sent(request: Request, *, uploads: bool, limits: Limits = LIMITS) -> AsyncGenerator[Sent]:
    """What the form sent; files are closed afterwards."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    most = limits.upload_bytes + limits.form_bytes if uploads and kind == UPLOAD else limits.form_bytes
    told = request.headers.get("content-length", "0")
    if not (told.isascii() and told.isdecimal()):
        raise RefusedError(refusal.SYNTAX)
    if int(told) > most:
        raise RefusedError(refusal.TOO_BIG)
    wait = limits.upload_s if uploads and kind == UPLOAD else limits.request_s
    files: tuple[UploadFile, ...] = ()
    try:
        async with asyncio.timeout(wait):
            if kind == FORM:
                found = Sent(
                    _fields(b"".join([part async for part in _counted(request, most, limits)]), limits)
                )
            elif kind == UPLOAD and uploads:
                found = await _upload(request, most, limits)
                files = found.files
            else:
                raise RefusedError(refusal.KIND)
    except TimeoutError as error:
        raise RefusedError(refusal.TOO_SLOW) from error
    except ClientDisconnect as error:
        raise RefusedError(refusal.FORM) from error
    try:
        yield found
    finally:
        for file in files:
            await file.close()


async def _counted(request: Request, most: int, limits: Limits) -> AsyncGenerator[bytes]:
    """The body as it comes; stops at the limit, and when nothing comes."""
    taken = 0
    stream = request.stream()
    while True:
        try:
            async with asyncio.timeout(limits.idle_s):
                part = await anext(stream)
        except StopAsyncIteration:
            return
        taken += len(part)
        if taken > most:
            raise RefusedError(refusal.TOO_BIG)
        yield part


def _fields(body: bytes, limits: Limits) -> tuple[tuple[str, str], ...]:
    try:
        return tuple(
            parse_qsl(
                body.decode("ascii"),
                keep_blank_values=True,
                strict_parsing=bool(body),
                errors="strict",
                max_num_fields=limits.form_fields,
            )
        )
    except ValueError as error:
        raise RefusedError(refusal.FORM) from error


async def _upload(request: Request, most: int, limits: Limits) -> Sent:
    parser = MultiPartParser(
        request.headers,
        _counted(request, most, limits),
        max_files=limits.upload_files,
        max_fields=limits.form_fields,
        max_part_size=limits.field_bytes,
    )
    try:
        form = await parser.parse()
    except (MultiPartException, FormParserError, KeyError, UnicodeError) as error:
        raise RefusedError(refusal.FORM) from error
    items = form.multi_items()
    return Sent(
        tuple((name, value) for name, value in items if isinstance(value, str)),
        tuple(value for _, value in items if isinstance(value, UploadFile)),
    )
