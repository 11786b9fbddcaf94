"""Writing results: all or nothing, and never half a file."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from optimizer.errors import FileError


def prepare_directory(path: Path) -> None:
    """Make a directory for results and see that it can be written, before any long work starts.

    Raises:
        FileError: it cannot be made or written.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=path):
            pass
    except OSError as error:
        raise FileError(f"cannot write into {path}: {error.strerror or error}") from None


def write_files(directory: Path, contents: Mapping[str, bytes]) -> None:
    """Write files into a directory: first all under temporary names, then each put in its place at once.

    Args:
        directory: an existing directory.
        contents: bytes under file names.

    Raises:
        FileError: a file cannot be written; none of the new contents is in place then.
    """
    temporary: list[tuple[Path, Path]] = []
    try:
        for name, content in contents.items():
            handle, path = tempfile.mkstemp(dir=directory, prefix=f".{name}.")
            temporary.append((Path(path), directory / name))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(path).chmod(0o644)
        for source, target in temporary:
            source.replace(target)
    except OSError as error:
        raise FileError(f"cannot write into {directory}: {error.strerror or error}") from None
    finally:
        for source, _ in temporary:
            source.unlink(missing_ok=True)


def write_new(path: Path, content: bytes) -> None:
    """Write one file that must not exist yet.

    Raises:
        FileError: it exists or cannot be written.
    """
    if path.exists():
        raise FileError(f"{path} exists already; choose another name")
    prepare_directory(path.parent)
    write_files(path.parent, {path.name: content})
