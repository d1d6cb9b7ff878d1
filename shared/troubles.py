"""Errors of files and disks, and bad values, in a player's words: no error numbers, no names of system calls.

Pure: takes an error, returns the end of a sentence.
"""

import errno

_OF_THE_SYSTEM = {
    errno.ENOENT: "there is no such file or folder",
    errno.ENOTDIR: "a part of its path is not a folder",
    errno.EISDIR: "it is a folder",
    errno.EACCES: "you have no permission",
    errno.EPERM: "you have no permission",
    errno.EROFS: "that disk is read-only",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your disk quota is used up",
    errno.EFBIG: "the file is too big",
    errno.EIO: "the disk reports an error",
    errno.ENAMETOOLONG: "its name is too long",
    errno.ELOOP: "its links form a circle",
    errno.EMFILE: "too many files are open",
    errno.ENFILE: "too many files are open",
    errno.EADDRINUSE: "it is in use by another program",
    errno.EADDRNOTAVAIL: "this machine has no such address",
}
_OF_SQLITE = {
    "SQLITE_BUSY": "another program is using it",
    "SQLITE_LOCKED": "another program is using it",
    "SQLITE_CANTOPEN": "the file can be neither opened nor created",
    "SQLITE_READONLY": "it is read-only",
    "SQLITE_PERM": "you have no permission",
    "SQLITE_FULL": "the disk is full",
    "SQLITE_IOERR": "the disk reports an error",
    "SQLITE_NOTADB": "it is not a database",
    "SQLITE_CORRUPT": "it is damaged",
}
_QUOTED_SIGNS = 60


def quoted(value: object) -> str:
    """Return a value as a sentence about it quotes it: of a long one, only the beginning.

    >>> quoted("soon"), quoted("so" * 50)
    ("'soon'", "'sososososososososososososososososososososososososososososos ...")
    """
    text = repr(value)
    return text if len(text) <= _QUOTED_SIGNS else f"{text[:_QUOTED_SIGNS]} ..."


def describe_error(error: Exception) -> str:
    """Return the reason of an error of the system or of SQLite: the end of a sentence, without its full stop.

    >>> describe_error(FileNotFoundError(errno.ENOENT, "No such file or directory", "x"))
    'there is no such file or folder'
    """
    name = "_".join(getattr(error, "sqlite_errorname", "").split("_")[:2])
    if name in _OF_SQLITE:
        return _OF_SQLITE[name]
    if isinstance(error, OSError):
        return _OF_THE_SYSTEM.get(error.errno or 0) or error.strerror or "the system gives no reason"
    return "its content is not what it should be" if name or isinstance(error, UnicodeError) else str(error)
