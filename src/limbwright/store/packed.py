"""Documents as they lie in the database: compressed, and checked against their digest when they are read."""

import hashlib
import json
import zlib
from typing import Any

from limbwright.case.case import Case
from limbwright.case.document import case_to_json
from limbwright.case.text import LARGEST_DOCUMENT_BYTES, require_size
from limbwright.error import Contradiction

_LEVEL = 6  # the best of zlib's levels that still packs a case in some milliseconds


def document_of(case: Case) -> str:
    """The case as its JSON document, refused when it is larger than one that can be read again."""
    document = case_to_json(case)
    require_size(len(document.encode()), where=f"case {case.id!r}")
    return document


def digest_of(document: str) -> str:
    """SHA-256 of a document in UTF-8."""
    return hashlib.sha256(document.encode()).hexdigest()


def packed(document: str) -> bytes:
    """The document, compressed."""
    return zlib.compress(document.encode(), _LEVEL)


def unpacked(data: bytes, sha256: str, *, where: str) -> str:
    """The document again.

    Raises
    ------
    Contradiction
        If it is not the one that was stored.
    """
    try:
        document = zlib.decompressobj().decompress(data, LARGEST_DOCUMENT_BYTES + 1)
    except zlib.error:
        document = b""
    if hashlib.sha256(document).hexdigest() != sha256:
        raise Contradiction(
            "the document is no longer the one that was stored.",
            where=where,
            next_step="Keep the database as it is and restore the latest backup into a new folder.",
        )
    return document.decode()


def tree_of(document: str) -> dict[str, Any]:
    """A stored document as plain JSON values."""
    tree: dict[str, Any] = json.loads(document)
    return tree
