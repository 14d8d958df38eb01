"""A fitted model as a Python module, so that the core reads no file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from asflown.core.carry.matching.context import CONTEXT
from asflown.core.carry.matching.features import FEATURES
from asflown.core.carry.matching.model import Linear, Model, Trees

HEAD = '''"""The matcher's trained model. Made by ``tools/train_matcher.py``; do not edit.

Trained on {cases}.
"""

from __future__ import annotations

from asflown.core.carry.matching.model import Linear, Model, Trees, numbers, whole_numbers

#: The numbers of a pair the model was fitted to, in this order.
FITTED_TO = (
{fitted}
)

MODEL = Model(
    first={first},
    second={second},
    trees={trees},
)
'''


def module_text(model: Model, cases: Sequence[str]) -> str:
    """The text of ``weights.py``."""
    return HEAD.format(
        cases=", ".join(cases) if len(cases) < 6 else f"{len(cases)} cases:\n" + "\n".join(_wrapped(cases)),
        fitted="\n".join(f'    "{name}",' for name in (*FEATURES, *CONTEXT)),
        first=_made(model.first),
        second=_made(model.second),
        trees=_made(model.trees),
    )


def _wrapped(words: Sequence[str]) -> list[str]:
    lines = [""]
    for word in words:
        if len(lines[-1]) + len(word) > 100:
            lines.append("")
        lines[-1] += f"{word} "
    return [line.rstrip() for line in lines]


def _made(part: Linear | Trees) -> str:
    rows = []
    for field in fields(part):
        value = getattr(part, field.name)
        if isinstance(value, tuple):
            reader = "whole_numbers" if all(isinstance(v, int) for v in value) else "numbers"
            rows.append(f'        {field.name}={reader}(\n            """')
            rows += _lines(value)
            rows.append('            """\n        ),')
        else:
            rows.append(f"        {field.name}={value!r},")
    return "\n".join([f"{type(part).__name__}(", *rows, "    )"])


def _lines(values: Sequence[float]) -> list[str]:
    lines = ["            "]
    for value in values:
        text = f"{value!r} "
        if len(lines[-1]) + len(text) > 106:
            lines[-1] = lines[-1].rstrip()
            lines.append("            ")
        lines[-1] += text
    return [*lines[:-1], lines[-1].rstrip()]
