"""Single files, written whole or not at all."""

import os
import signal
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sim.errors import InputError


@contextmanager
def interruptible() -> Iterator[None]:
    """Ctrl-C raises KeyboardInterrupt within, so that what is half written is removed; elsewhere the command line ends at once."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def check_suffix(path: Path, suffix: str) -> None:
    """Refuse a file whose name ends otherwise than its kind's.  path : to write; suffix : that its name must have.  Raises InputError."""
    if path.suffix.lower() != suffix:
        raise InputError(str(path), "", f"the name does not end in {suffix}", f"call it something{suffix}")


@interruptible()
def write_file(path: Path, suffix: str, write: Callable[[Path], object]) -> None:
    """Write one file through a temporary one beside it, so that what stood there stays until the new one is whole.

    path : to write or replace; suffix : that its name must have; write : writes the content to the path that it is given
    Raises InputError where it can't be written.
    """
    check_suffix(path, suffix)
    if path.is_dir():
        raise InputError(str(path), "", "this is a folder", "choose another name")
    made = None
    try:
        handle, name = tempfile.mkstemp(suffix=suffix, prefix=".scrubwise-", dir=path.parent)
        os.close(handle)
        made = Path(name)
        write(made)
        mask = os.umask(0)  # can only be read by setting it
        os.umask(mask)
        made.chmod(0o666 & ~mask)  # the rights of any new file; the temporary one was its owner's alone
        os.replace(made, path)
    except OSError as error:
        raise InputError(str(path), "", f"the file can't be written ({error.strerror})", "check the folder and its rights") from None
    finally:
        if made is not None:
            made.unlink(missing_ok=True)
