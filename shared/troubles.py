"""What files and disks refuse, in words that a player can read: no numbers, no names of calls.

Pure: an error in, the end of a sentence out.
"""

import errno

_OF_THE_SYSTEM = {
    errno.ENOENT: "there is no such file or folder",
    errno.ENOTDIR: "a part of its path is no folder",
    errno.EISDIR: "it is a folder",
    errno.EACCES: "you have no permission",
    errno.EPERM: "you have no permission",
    errno.EROFS: "nothing can be written on that disk",
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "you have no more room there",
    errno.EFBIG: "there is no room for a file of this length",
    errno.EIO: "the disk does not answer as it should",
    errno.ENAMETOOLONG: "its name is too long",
    errno.ELOOP: "its links lead round in a circle",
    errno.EMFILE: "too many files are open",
    errno.ENFILE: "too many files are open",
}
_OF_SQLITE = {
    "SQLITE_BUSY": "another program is using it",
    "SQLITE_LOCKED": "another program is using it",
    "SQLITE_CANTOPEN": "there is no file that can be opened, and none can be made",
    "SQLITE_READONLY": "it can be read only",
    "SQLITE_PERM": "you have no permission",
    "SQLITE_FULL": "the disk is full",
    "SQLITE_IOERR": "the disk does not answer as it should",
    "SQLITE_NOTADB": "it is no database",
    "SQLITE_CORRUPT": "it is damaged",
}


def describe_error(error: Exception) -> str:
    """Return why the system or SQLite would not do it, as the end of a sentence without its full stop.

    >>> describe_error(FileNotFoundError(errno.ENOENT, "No such file or directory", "x"))
    'there is no such file or folder'
    """
    name = "_".join(getattr(error, "sqlite_errorname", "").split("_")[:2])
    if name in _OF_SQLITE:
        return _OF_SQLITE[name]
    if isinstance(error, OSError):
        return _OF_THE_SYSTEM.get(error.errno or 0) or error.strerror or "the system gives no reason"
    return "it does not hold what it should" if name or isinstance(error, UnicodeError) else str(error)
