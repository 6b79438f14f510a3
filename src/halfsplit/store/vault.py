"""What seals the records of persons: a key in a file of its own, outside the database."""

import os
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.fernet import Fernet, InvalidToken

from halfsplit.errors import Mistake, StoreError


@dataclass(frozen=True)
class Vault:
    """Seals bytes so that only who has the key can read or make them (Fernet: AES-128-CBC, HMAC-SHA-256)."""

    key_path: Path
    fernet: Fernet = field(repr=False)

    def seal(self, content: bytes) -> bytes:
        """Return the content sealed, as ASCII text."""
        return self.fernet.encrypt(content)

    def unseal(self, sealed: bytes) -> bytes:
        """Return the content.

        Raises:
            StoreError: HS704 it was sealed by another key, or somebody changed it.
        """
        try:
            return self.fernet.decrypt(sealed)
        except InvalidToken as error:
            so, should = "it does not open what is sealed", "it is the key that was there when this was entered"
            do = "Put the right key file back"
            raise StoreError([Mistake(str(self.key_path), "HS704", so, should, do)]) from error


def open_vault(path: Path, *, has_sealed: bool) -> Vault:
    """Open the vault by the key in a file; where there is none a key is made, readable by its owner only.

    Args:
        path: the file's.
        has_sealed: whether anything was sealed already, which a new key would not open.

    Raises:
        StoreError: HS703 the file cannot be read or made, is gone, holds no key, or may be read by others.
    """
    try:
        if not path.exists():
            if has_sealed:
                do = "Put it back from where you keep it; if it is lost, see 'Persons' in docs/store.md"
                raise StoreError([_no_key(path, "it is not there, and there are records that it sealed", do)])
            _make_key(path)
        key = path.read_bytes().strip()
        if os.name == "posix" and path.stat().st_mode & 0o077:
            raise StoreError([_no_key(path, "others may read it", "Take their rights to it: chmod 600")])
        return Vault(path, Fernet(key))
    except OSError as error:
        why = error.strerror or str(error)
        raise StoreError([_no_key(path, f"it cannot be used ({why})", "Check its name and your rights")]) from error
    except ValueError as error:
        raise StoreError([_no_key(path, "it holds no key", "Put the right key file back")]) from error


def _make_key(path: Path) -> None:
    """Write a new key; of two processes that start at once the first one's stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, made = tempfile.mkstemp(dir=path.parent)  # made with mode 0600
    with os.fdopen(handle, "wb") as file:
        file.write(Fernet.generate_key())
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(made, path)
    except FileExistsError:
        pass
    finally:
        Path(made).unlink()


def _no_key(path: Path, so: str, do: str) -> Mistake:
    return Mistake(str(path), "HS703", so, "it is a key of halfsplit that only its owner can read", do)
