"""The only module that knows MessagePack: packs values into bytes and unpacks them within explicit limits.

Never trusts its input: it unpacks nothing beyond the limits, returns only values of the expected type, and raises
BadFrame with one sentence for anything else.
"""

from typing import Any, Generic, TypeVar

import msgpack
from pydantic import BaseModel, TypeAdapter, ValidationError

R = TypeVar("R")


class BadFrame(ValueError):
    """The bytes hold no expected value; the message is one sentence for a person."""


class NewerFile(BadFrame):
    """A file that a newer racktempo wrote; the message names both versions."""


class Codec(Generic[R]):
    """Packs and unpacks values of one type, at most limit bytes each."""

    def __init__(self, kind: Any, limit: int) -> None:
        self.adapter: TypeAdapter[R] = TypeAdapter(kind)
        self.limit = limit

    def pack(self, value: R) -> bytes:
        """Return the value as MessagePack bytes."""
        plain = value.model_dump() if isinstance(value, BaseModel) else self.adapter.dump_python(value)
        packed: bytes = msgpack.packb(plain)
        return packed

    def unpack(self, data: bytes) -> R:
        """Return the value that the bytes hold.

        Raises:
            BadFrame: too long, not MessagePack, nested too deeply, or not a value of the type.
        """
        plain = self._unpack_plain(data)
        try:
            return self.adapter.validate_python(plain)
        except (ValidationError, RecursionError) as error:
            raise BadFrame(f"This is none of the expected values: {_first_fault(error)}.") from error

    def _unpack_plain(self, data: bytes) -> object:
        if not isinstance(data, bytes):
            raise BadFrame("This is not bytes.")  # a damaged database may return any type
        if len(data) > self.limit:
            raise BadFrame(f"{len(data)} bytes are more than the {self.limit} allowed.")
        try:
            return msgpack.unpackb(
                data,
                use_list=False,
                strict_map_key=True,
                max_str_len=self.limit,
                max_bin_len=self.limit,
                max_array_len=self.limit,
                max_map_len=min(self.limit, 1_000),
                max_ext_len=0,
            )
        except (ValueError, msgpack.UnpackException, RecursionError, UnicodeDecodeError) as error:
            raise BadFrame("This is not a MessagePack value within the limits.") from error


class FileCodec(Codec[R]):
    """A codec for one kind of file. Its values say their format and their version, so that a newer file is told."""

    def __init__(self, kind: Any, limit: int, file_format: str, version: int) -> None:
        super().__init__(kind, limit)
        self.format = file_format
        self.version = version

    def _unpack_plain(self, data: bytes) -> object:
        plain = super()._unpack_plain(data)
        if isinstance(plain, dict) and plain.get("format") == self.format:
            theirs = plain.get("version")
            if type(theirs) is int and theirs > self.version:
                raise NewerFile(f'This is a "{self.format}" of version {theirs}; {known_versions(self.version)}')
        return plain


def known_versions(newest: int) -> str:
    """Return the end of the sentence about a file that is too new."""
    return f"this racktempo reads versions up to {newest}. Use the newer racktempo."


def replace_last_text(data: bytes, old: str, new: str) -> bytes:
    """Return packed bytes that end in one text with another text in its place; all else stays as it was written."""
    end: bytes = msgpack.packb(old)
    return data.removesuffix(end) + msgpack.packb(new) if data.endswith(end) else data


def _first_fault(error: Exception) -> str:
    if not isinstance(error, ValidationError):
        return "it is nested too deeply"
    fault = error.errors(include_url=False, include_input=False, include_context=False)[0]
    where = " ".join(str(part) for part in fault["loc"][:6])
    # Keys and tags are a stranger's text: drop characters that could control a terminal.
    return "".join(char for char in f"{where[:80]} {fault['msg']}".strip()[:200] if char.isprintable())
