"""Names, identifiers and dates that stand in for the real ones, the same ones in every export of a practice.

They follow from a key that stays in the practice's database: with it two exports of one patient belong
together, without it nobody can tell who a pseudonym stands for or by how many days the dates were moved.
"""

import base64
import hashlib
import hmac
import uuid
from datetime import date, timedelta

KEY_BYTES = 32
SMALLEST_SHIFT_DAYS = 30
LARGEST_SHIFT_DAYS = 3650


class Pseudonyms:
    """Stand-ins made with one practice's key.

    Parameters
    ----------
    key : bytes
        `KEY_BYTES` random bytes.
    """

    def __init__(self, key: bytes) -> None:
        if len(key) < KEY_BYTES:
            raise ValueError(f"a key of {len(key)} bytes, expected {KEY_BYTES}")
        self._key = key

    def patient(self, identifier: str) -> str:
        """Stands in for a patient's identifier."""
        return f"P-{self._word('patient', identifier)}"

    def case(self, identifier: str) -> str:
        """Stands in for a case's identifier."""
        return f"C-{self._word('case', identifier)}"

    def uid(self, identifier: str) -> str:
        """Stands in for a DICOM unique identifier: a UUID-derived one under 2.25 (PS3.5 annex B)."""
        return f"2.25.{uuid.UUID(bytes=self._digest('uid', identifier)[:16], version=4).int}"

    def days_earlier(self, patient: str) -> int:
        """By how many days all dates of a patient are moved into the past. [days]"""
        number = int.from_bytes(self._digest("days", patient)[:8], "big")
        return SMALLEST_SHIFT_DAYS + number % (LARGEST_SHIFT_DAYS - SMALLEST_SHIFT_DAYS + 1)

    def moved(self, day: date, *, patient: str) -> date:
        """The day that stands in for a day; intervals between days of one patient are kept."""
        return day - timedelta(days=self.days_earlier(patient))

    def _word(self, kind: str, identifier: str) -> str:
        return base64.b32encode(self._digest(kind, identifier)).decode()[:12]

    def _digest(self, kind: str, identifier: str) -> bytes:
        return hmac.new(self._key, f"{kind}\0{identifier}".encode(), hashlib.sha256).digest()
