"""A DICOM film without the identity of its patient: the standard's basic profile, dates moved as a whole.

Follows DICOM PS3.15 annex E, Basic Application Level Confidentiality Profile with the option Retain
Longitudinal Temporal Information with Modified Dates. Stricter than the profile where a film needs no more:
private elements, unknown ones, person names and long texts that the table does not list go as well, and times
of day follow the basic profile. The picture is not touched: what is written into it stays, so every film is
reported unless its header says that nothing is.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from limbwright.error import LimbwrightError
from limbwright.film.reading.facts import FileKind
from limbwright.film.reading.quiet import heard
from limbwright.film.reading.read import read_facts
from limbwright.finding import Finding
from limbwright.published import table
from limbwright.quantity import Value
from limbwright.store.pseudonym import Pseudonyms
from limbwright.store.rules import remark

if TYPE_CHECKING:
    from pydicom.dataelem import DataElement
    from pydicom.dataset import Dataset

METHOD = "DICOM PS3.15 basic profile, dates modified; Limbwright"
# Coding scheme DCM, PS3.16 context group 7050.
METHOD_CODES = (
    ("113100", "Basic Application Confidentiality Profile"),
    ("113107", "Retain Longitudinal Temporal Information Modified Dates Option"),
)
_PATIENT_GROUP = 0x0010
_FILE_META_KEPT = {0x00020002, 0x00020003, 0x00020010, 0x00020012}
_TRAILING_PADDING = 0xFFFCFFFC
_LONG_TEXTS = {"LT", "ST", "UT"}
_FILLERS: dict[str, Any] = {"TM": "000000", "AS": "000Y", "UR": "removed:", "PN": "Removed"}
_NUMBERS = {"DS", "FD", "FL", "IS", "SL", "SS", "SV", "UL", "US", "UV"}
_BYTES = {"OB", "OD", "OF", "OL", "OV", "OW", "UN"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanedFilm(Value):
    """What is left of a film."""

    content: bytes | None
    """The DICOM file; None when the film has to be left out."""
    findings: tuple[Finding, ...]
    """Why it was left out, or what has to be looked at."""


def film_without_identity(content: bytes, *, patient: str, pseudonyms: Pseudonyms, name: str) -> CleanedFilm:
    """The film without the identity of its patient.

    Parameters
    ----------
    content : bytes
        The film as it was stored.
    patient : str
        The patient's identifier in the case; stand-ins and dates follow from it, not from the film's header.
    pseudonyms : Pseudonyms
        Stand-ins of the practice.
    name : str
        Name of the film, for the findings.
    """
    try:
        facts = read_facts(content, name=name).facts
    except LimbwrightError as error:
        return _left_out("export-film-unreadable", f"{name}: {error.found} The film was left out.")
    if facts.kind is not FileKind.DICOM:
        return _left_out("export-film-not-dicom", f"{name}: a {facts.kind} file. The film was left out.")
    try:
        # What the library remarks on odd values is of no use here: they are moved, replaced or taken out.
        with heard():
            return _cleaned(content, patient, pseudonyms, name)
    except Exception as error:  # a foreign parser or writer on odd bytes may raise anything
        words = f"{name}: the header cannot be read whole ({type(error).__name__}). The film was left out."
        return _left_out("export-film-unreadable", words)


def _left_out(rule_id: str, words: str) -> CleanedFilm:
    return CleanedFilm(content=None, findings=(remark(rule_id, words),))


def _cleaned(content: bytes, patient: str, pseudonyms: Pseudonyms, name: str) -> CleanedFilm:
    from pydicom import dcmread
    from pydicom.dataset import FileMetaDataset
    from pydicom.filewriter import dcmwrite
    from pydicom.uid import UID

    dataset = dcmread(io.BytesIO(content), force=True)
    burned_in = str(dataset.get("BurnedInAnnotation", "") or "").strip().upper()
    if burned_in == "YES":
        words = f"{name}: the header says that writing is burned into the picture. The film was left out."
        return _left_out("export-film-burned-in", words)
    _Cleaning(pseudonyms, patient).clean(dataset)
    dataset.PatientID = pseudonyms.patient(patient)
    _say_how(dataset)
    meta = FileMetaDataset()
    for element in dataset.file_meta:
        if int(element.tag) in _FILE_META_KEPT:
            meta.add(element)
    if "MediaStorageSOPInstanceUID" in meta:
        meta.MediaStorageSOPInstanceUID = UID(pseudonyms.uid(str(meta.MediaStorageSOPInstanceUID)))
    dataset.file_meta = meta
    # The preamble may hold another file's header, with anything in it.
    dataset.preamble = bytes(128)
    out = io.BytesIO()
    dcmwrite(out, dataset, enforce_file_format=True)
    findings: tuple[Finding, ...] = ()
    if burned_in != "NO":
        words = f"{name}: the header does not say whether writing is burned into the picture."
        findings = (remark("export-film-burned-in-unknown", words),)
    return CleanedFilm(content=out.getvalue(), findings=findings)


def _say_how(dataset: "Dataset") -> None:
    from pydicom.dataset import Dataset

    dataset.PatientIdentityRemoved = "YES"
    dataset.DeidentificationMethod = METHOD
    dataset.LongitudinalTemporalInformationModified = "MODIFIED"
    codes = []
    for value, meaning in METHOD_CODES:
        code = Dataset()
        code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = value, "DCM", meaning
        codes.append(code)
    dataset.DeidentificationMethodCodeSequence = codes


@cache
def profile() -> dict[str, str]:
    """Action of the basic profile by tag: eight hexadecimal digits, x for any digit of a repeating group."""
    return {row.text("tag"): row.text("action") for row in table("store", "basic_profile")}


def action_for(tag: int) -> str | None:
    """Action of the basic profile for a tag; None when the profile leaves it alone."""
    text = f"{tag:08x}"
    rows = profile()
    return rows.get(text) or rows.get(f"{text[:2]}xx{text[4:]}") or rows.get(f"{text[:2]}xxxxxx")


class _Cleaning:
    """Takes the identity out of a data set in place, its sequences included."""

    def __init__(self, pseudonyms: Pseudonyms, patient: str) -> None:
        self._pseudonyms = pseudonyms
        self._patient = patient

    def clean(self, dataset: "Dataset") -> None:
        """Apply the profile to every element."""
        for tag in list(dataset.keys()):
            element = dataset[tag]
            if not self._keep(element):
                del dataset[tag]

    def _keep(self, element: "DataElement") -> bool:
        """Change the element as the profile wants; False when it has to go."""
        action = action_for(int(element.tag))
        if self._has_to_go(element, action):
            return False
        if element.VR in {"DA", "DT"} and element.tag.group != _PATIENT_GROUP:
            element.value = self._moved(element)
        elif element.VR == "SQ":
            return self._keep_sequence(element, action)
        elif action is None:
            return True
        elif action.startswith("U"):
            element.value = self._replaced_uids(element)
        elif "D" in action:
            element.value = self._filler(element)
        else:
            element.value = _nothing(element)
        return True

    def _has_to_go(self, element: "DataElement", action: str | None) -> bool:
        if element.tag.is_private or int(element.tag) == _TRAILING_PADDING or element.VR == "UN":
            return True
        if action is None:
            return not _is_known(int(element.tag)) or element.VR == "PN" or element.VR in _LONG_TEXTS
        # A date that the profile removes is moved instead: the interval to the other dates is what is read.
        return action == "X" and element.VR not in {"DA", "DT"}

    def _keep_sequence(self, element: "DataElement", action: str | None) -> bool:
        if action is not None and not action.endswith("U*"):
            element.value = []
            return "Z" in action
        for item in element.value:
            self.clean(item)
        return True

    def _moved(self, element: "DataElement") -> Any:
        moved = [self._moved_text(str(text)) for text in _values(element)]
        return moved if len(moved) > 1 else (moved[0] if moved else None)

    def _moved_text(self, text: str) -> str:
        """A date moved; of a date with time the time goes. What cannot be read as a date goes as a whole."""
        digits = text.strip().replace(".", "")[:8]
        try:
            day: date = datetime.strptime(digits, "%Y%m%d").date()
            return self._pseudonyms.moved(day, patient=self._patient).strftime("%Y%m%d")
        except (ValueError, OverflowError):
            return ""

    def _replaced_uids(self, element: "DataElement") -> Any:
        replaced = [self._pseudonyms.uid(str(uid)) for uid in _values(element)]
        return replaced if len(replaced) > 1 else (replaced[0] if replaced else None)

    def _filler(self, element: "DataElement") -> Any:
        if element.VR == "UI":
            return self._replaced_uids(element)
        if element.VR in _NUMBERS:
            return 0
        if element.VR in _BYTES:
            return b"\0\0"
        return _FILLERS.get(element.VR, "REMOVED")


def _values(element: "DataElement") -> Iterator[Any]:
    value = element.value
    if value is None or value == "":
        return
    if isinstance(value, str) or not hasattr(value, "__iter__"):
        yield value
    else:
        yield from value


def _nothing(element: "DataElement") -> Any:
    return element.empty_value


def _is_known(tag: int) -> bool:
    from pydicom.datadict import dictionary_has_tag, repeater_has_tag

    return dictionary_has_tag(tag) or repeater_has_tag(tag)
