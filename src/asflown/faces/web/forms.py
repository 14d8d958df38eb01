"""What a form sent, read within bounds."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from asflown.errors import UsageError
from asflown.faces.web.page import Sent, Uploaded

if TYPE_CHECKING:
    from starlette.requests import Request

#: Fields and files of one form, and bytes of one text field, at most.
MOST_FIELDS, MOST_FILES, MOST_TEXT = 5000, 5000, 2**20


@asynccontextmanager
async def sent_by(request: Request) -> AsyncIterator[tuple[Sent, str]]:
    """The form of a request, and its token; its files are open while the request is answered.

    Raises
    ------
    UsageError
        For what is no form, or one with too many parts.
    """
    from starlette.datastructures import UploadFile
    from starlette.exceptions import HTTPException
    from starlette.formparsers import MultiPartException

    texts: dict[str, list[str]] = {}
    files: dict[str, list[Uploaded]] = {}
    try:
        form = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_TEXT)
    except (HTTPException, MultiPartException, UnicodeDecodeError) as error:
        raise UsageError("the form could not be read", next_step="go back and send it again") from error
    try:
        for name, value in form.multi_items():
            if not isinstance(value, UploadFile):
                texts.setdefault(name, []).append(value)
            elif value.filename:
                files.setdefault(name, []).append(Uploaded(value.filename, value.file))
        token = texts.pop("token", [""])[0]
        act = texts.pop("act", [""])[0]
        yield Sent(act, texts, files), token
    finally:
        await form.close()
