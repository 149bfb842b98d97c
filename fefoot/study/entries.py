"""The store of runs: a folder with one small file per run, named by the run's key.

An entry is complete or absent: it is written under a temporary name, flushed to the disk and renamed.
Several sweeps may use one store at the same time: they write the same content under the same name.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import socket
import tempfile
import time
from pathlib import Path

from ..errors import InputError

FORMAT = 1
"""Grows when a reader of the former format would misread an entry."""
ABANDONED_SECONDS = 3600.0
_PART = ".part-"


class RunStore:
    """A folder of finished runs.

    Parameters
    ----------
    path : path
        Made when it does not exist.

    Raises
    ------
    InputError
        When the folder cannot be made or written.
    """

    def __init__(self, path: str | Path):
        self.path = Path(path)
        with self._writing():
            self.path.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=self.path) as trial:
                trial.write(b"\0" * 4096)
                trial.flush()
        self._remove_abandoned()

    def file(self, key: str) -> Path:
        """Return where the entry of a key stands."""
        return self.path / key[:2] / f"{key}.json"

    def get(self, key: str) -> dict | None:
        """Return what is kept of a run; None when there is no entry, or one that is damaged."""
        try:
            data = self.file(key).read_bytes()
        except OSError:
            return None
        try:
            entry = json.loads(data)
            sound = (entry["format"] == FORMAT and entry["key"] == key
                     and entry["digest"] == _digest(entry["kept"]))
        except (ValueError, KeyError, TypeError):
            return None
        return entry["kept"] if sound else None

    def put(self, key: str, description: dict, kept: dict) -> None:
        """Write the entry of a finished run.

        Raises
        ------
        InputError
            When it cannot be written: a full disk, a folder that became read-only.
        """
        text = json.dumps({"format": FORMAT, "key": key, "digest": _digest(kept),
                           "condition": description, "kept": kept}, allow_nan=False, indent=0)
        target = self.file(key)
        with self._writing():
            target.parent.mkdir(exist_ok=True)
            write_whole(target, text.encode())

    @contextlib.contextmanager
    def _writing(self):
        try:
            yield
        except OSError as problem:
            raise InputError(
                f"the store of runs cannot be written ({problem.strerror or problem})", key="--store",
                value=str(self.path), allowed="a folder that can be written, with room on its disk",
                hint="make room, or choose another folder with --store; what is finished is kept, "
                     "and the same command goes on from there") from None

    def _remove_abandoned(self) -> None:
        """Remove parts of entries whose writer was killed."""
        with contextlib.suppress(OSError):
            for part in self.path.glob(f"*/{_PART}*"):
                with contextlib.suppress(OSError):
                    if time.time() - part.stat().st_mtime > ABANDONED_SECONDS or _is_orphan(part):
                        part.unlink()


def write_whole(target: Path, data: bytes) -> None:
    """Write a file so that it appears with all its bytes or not at all."""
    part = target.parent / f"{_PART}{socket.gethostname()}-{os.getpid()}-{target.name}"
    try:
        with open(part, "wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Flush a folder's list of names to the disk, where the system can."""
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def _is_orphan(part: Path) -> bool:
    host, _, rest = part.name.removeprefix(_PART).rpartition("-")[0].rpartition("-")
    if host != socket.gethostname() or not rest.isdigit() or os.name != "posix":
        return False
    try:
        os.kill(int(rest), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False


def _digest(kept: dict) -> str:
    text = json.dumps(kept, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()
