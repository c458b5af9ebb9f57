"""`netcheck completion`: what makes a shell complete names."""

from __future__ import annotations

import click

from .common import CLEAN, emit

_SHELLS = ("bash", "fish", "zsh")


_HOW = """\b
bash:  netcheck completion bash > ~/.netcheck-complete
       and a line in ~/.bashrc: . ~/.netcheck-complete
zsh:   the same with zsh and ~/.zshrc
fish:  netcheck completion fish > ~/.config/fish/completions/netcheck.fish
"""


@click.command("completion", epilog=_HOW)
@click.argument("shell", type=click.Choice(_SHELLS))
def command(shell: str) -> int:
    """Print what makes a SHELL complete commands, options, circuits, sheets and parts."""
    from click.shell_completion import get_completion_class  # noqa: PLC0415 - keeps --help quick

    kind = get_completion_class(shell)
    assert kind is not None
    root = click.get_current_context().find_root().command
    emit(kind(root, {}, "netcheck", "_NETCHECK_COMPLETE").source())
    return CLEAN
