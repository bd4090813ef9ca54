"""Single files, written whole or not at all."""

import _thread
import hashlib
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sim.errors import InputError
from sim.files.text import plain_bytes
from sim.store.beside import file_beside
from sim.store.run_folder import clear_leftovers

AGAIN_S = 0.02  # longer than what Python finishes where it can't raise, and too short to be felt
_SEALED = "# Scrubwise wrote this file. Sum of the lines above: "
_LARGEST_FRAGMENT = 100_000  # [bytes]; a fragment has a few lines


@contextmanager
def interruptible() -> Iterator[None]:
    """Ctrl-C raises KeyboardInterrupt within, so that what is half written is removed; elsewhere the command line ends at once."""
    before, hook = signal.signal(signal.SIGINT, signal.default_int_handler), sys.unraisablehook
    sys.unraisablehook = _dropped
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        sys.unraisablehook = hook


def _dropped(lost: Any) -> None:
    """Ask again where Python can't raise, as at the end of a weak reference: there it would tell of a KeyboardInterrupt and go on."""
    if issubclass(lost.exc_type, KeyboardInterrupt):
        _thread.start_new_thread(_interrupt_again, ())
    else:
        sys.__unraisablehook__(lost)


def _interrupt_again() -> None:
    time.sleep(AGAIN_S)
    signal.raise_signal(signal.SIGINT)


def check_suffix(path: Path, suffix: str) -> None:
    """Refuse a file whose name ends otherwise than its kind's.  path : to write; suffix : that its name must have.  Raises InputError."""
    if path.suffix.lower() != suffix:
        raise InputError(str(path), "", f"the name does not end in {suffix}", f"call it {path.stem}{suffix}")


def write_new(path: Path, text: str) -> None:
    """Write a file where nothing of its name is, whole or not at all.  path, text : of it.  Raises FileExistsError; OSError."""
    stream = open(path, "x", encoding="utf-8", newline="\n")  # noqa: SIM115 (what was there before must not go below)
    try:
        with stream:
            stream.write(text)
    except OSError:
        path.unlink(missing_ok=True)
        raise


@interruptible()
def write_file(path: Path, suffix: str, write: Callable[[Path], object]) -> None:
    """Write one file through a temporary one beside it, so that what stood there stays until the new one is whole.

    path : to write or replace; suffix : that its name must have; write : writes the content to the path that it is given
    Raises InputError where it can't be written.
    """
    check_suffix(path, suffix)
    if path.is_dir():
        raise InputError(str(path), "", "this is a folder", "choose another name")
    clear_leftovers(path.parent)
    try:
        with file_beside(path.parent, suffix) as made:
            write(made)
            mask = os.umask(0)  # can only be read by setting it
            os.umask(mask)
            made.chmod(0o666 & ~mask)  # the rights of any new file; the temporary one was its owner's alone
            os.replace(made, path)
    except OSError as error:
        raise InputError(str(path), "", f"the file can't be written ({error.strerror})", "check the folder and its rights") from None


def refuse_written_by_others(path: Path) -> None:
    """Refuse a name under which something stands that `write_fragment` did not write, or that was changed since.

    path : of the fragment, before the work for it begins
    Raises InputError; nothing where there is no such file, or no way to look.
    """
    try:
        if not os.path.lexists(path):
            return
        text, _, seal = plain_bytes(path, _LARGEST_FRAGMENT).rpartition(_SEALED.encode())
        ours = seal.strip() == _sum_of(text)
    except (OSError, ValueError):
        ours = False
    if not ours:
        problem = "there is a file of this name that Scrubwise did not write, or that was changed since"
        raise InputError(str(path), "", problem, "choose another name")


def write_fragment(path: Path, text: str) -> None:
    """Write a piece of a scenario, over an earlier one but over nothing else.  path : .toml; text : of it.  Raises InputError."""
    refuse_written_by_others(path)
    sealed = text.encode() + _SEALED.encode() + _sum_of(text.encode()) + b"\n"
    write_file(path, ".toml", lambda made: made.write_bytes(sealed))


def _sum_of(text: bytes) -> bytes:
    return hashlib.sha256(text.replace(b"\r\n", b"\n")).hexdigest()[:16].encode()
