"""``asflown schema``: the JSON Schema of a file people write."""

from __future__ import annotations

from asflown.faces.cli.options import NO_OPTIONS, Common


def schema(file: str | None = None, /, *, common: Common = NO_OPTIONS) -> int:
    """Print the JSON Schema of a file people write; without a name, the list of them.

    Example: asflown schema notes > notes.schema.json

    Parameters
    ----------
    file
        Which file: aircraft, notes, overlay …
    """
    from asflown.app import schemas
    from asflown.faces.cli.console import say, say_json

    if file is not None:
        say_json(schemas.schema(file))
    elif common.as_json:
        say_json({"schemas": list(schemas.names())})
    else:
        say("\n".join(schemas.names()), plain=common.plain)
    return 0
