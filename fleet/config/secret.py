"""The key that signs sessions: given in the environment, or made once and kept beside the data."""

import os
import secrets
from contextlib import suppress
from pathlib import Path

from .surroundings import FEWEST_KEY_CHARACTERS, Surroundings

KEY_FILE = "secret-key"


def secret_key(given: Surroundings, *, data_dir: Path, alone: bool) -> str:
    """The key of this installation. Alone on its machine, Layline makes one at the first start."""
    key = given.text("SECRET_KEY")
    if key:
        if len(key) < FEWEST_KEY_CHARACTERS or len(set(key)) < 5:
            wanted = f"write at least {FEWEST_KEY_CHARACTERS} random characters"
            given.problem("SECRET_KEY", "too short", wanted)
        return key
    if alone:
        return _kept_key(data_dir / KEY_FILE)
    given.problem("SECRET_KEY", "", f"write at least {FEWEST_KEY_CHARACTERS} random characters")
    return "unset"


def _kept_key(path: Path) -> str:
    """The key in the file. Of several first starts at once, one makes it and all read that one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not path.exists():
        draft = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as file:
            file.write(secrets.token_urlsafe(64))
        try:
            # Another start made it first: its key is the one that all read.
            with suppress(FileExistsError):
                os.link(draft, path)
        finally:
            draft.unlink()
    return path.read_text().strip()
