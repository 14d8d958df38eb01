"""``asflown completion``: shell completion."""

from __future__ import annotations

from typing import Literal

from asflown.faces.cli.options import NO_OPTIONS, Common


def completion(shell: Literal["bash", "zsh", "fish"], /, *, common: Common = NO_OPTIONS) -> int:
    """Print shell completion for bash, zsh or fish.

    Example: asflown completion bash > ~/.local/share/bash-completion/completions/asflown

    Parameters
    ----------
    shell
        Which shell.
    """
    from asflown.faces.cli.console import say
    from asflown.faces.cli.main import build

    say(build().generate_completion(prog_name="asflown", shell=shell), plain=common.plain)
    return 0
