"""Where content lies: the program's own, the user's folder laid over it, and what was kept of both."""

from __future__ import annotations

import os
import zlib
from collections.abc import Mapping
from pathlib import Path

HOME_VARIABLE = "INTROIT_HOME"
"""An environment variable that names the user's own folder in place of the system's usual one."""

_PACKAGE = Path(__file__).resolve().parent.parent


def content_roots(*, package: Path = _PACKAGE, environ: Mapping[str, str] | None = None) -> list[Path]:
    """The folders that have `patterns/` and `config/` below them, each later one laid over those before it.

    Args:
        package: the folder of the import package.
        environ: the environment; None for the process's own.

    Returns:
        The program's own content first, then the user's folder if it exists.
    """
    own = user_root(environ=environ)
    return [program_root(package=package), *([own] if own.is_dir() else [])]


def program_root(*, package: Path = _PACKAGE) -> Path:
    """The checkout when the package lies in one (`engine/` beside `patterns/`), else `_content` inside it."""
    checkout = package.parent.parent
    in_checkout = package.parent.name == "engine" and (checkout / "patterns").is_dir()
    return checkout if in_checkout else package / "_content"


def user_root(*, environ: Mapping[str, str] | None = None) -> Path:
    """The user's own folder: what INTROIT_HOME names, else the system's usual place; it need not exist."""
    chosen = (os.environ if environ is None else environ).get(HOME_VARIABLE)
    if chosen:
        return Path(chosen).expanduser()
    from platformdirs import user_data_path

    return user_data_path("introit", appauthor=False)


def cache_file(*, package: Path = _PACKAGE, environ: Mapping[str, str] | None = None) -> Path:
    """Where this installation keeps what it has read: in `cache/` below INTROIT_HOME, else where caches lie.

    Neither the file nor its folder need exist. Two installations never share one.
    """
    chosen = (os.environ if environ is None else environ).get(HOME_VARIABLE)
    name = f"library-{zlib.crc32(os.fsencode(package)):08x}.json"
    if chosen:
        return Path(chosen).expanduser() / "cache" / name
    from platformdirs import user_cache_path

    return user_cache_path("introit", appauthor=False) / name
