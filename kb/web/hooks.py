"""Datasette's hooks (pluggy), with types: a hook is found by its name and gets those of its arguments that it names."""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from datasette import hookimpl

Hook = TypeVar("Hook", bound=Callable[..., Any])


def hook(function: Hook) -> Hook:
    """Answer a hook of Datasette."""
    return cast(Hook, hookimpl(function))


def first_hook(function: Hook) -> Hook:
    """Answer it before everybody else."""
    return cast(Hook, hookimpl(function, tryfirst=True))
