"""Files that nobody but the service may read: keys. Imports no Django."""

import os
from pathlib import Path


def write_private(path: Path, content: bytes) -> None:
    """Write a file that its owner alone may read, from its first byte on, whole or not at all."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(content)
    part.replace(path)
