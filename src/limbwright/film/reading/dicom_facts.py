"""Header facts of a DICOM film."""

from dataclasses import dataclass
from functools import cache

from limbwright.film.film import ViewerSide
from limbwright.film.reading.dicom_header import Header
from limbwright.film.reading.dicom_scale import header_scale
from limbwright.film.reading.dicom_values import Values
from limbwright.film.reading.facts import FileKind, HeaderFacts, MarkedSide
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding
from limbwright.limb.anatomy import Projection
from limbwright.published import table

_SIDES = {"R": MarkedSide.RIGHT, "L": MarkedSide.LEFT, "B": MarkedSide.BOTH, "U": MarkedSide.UNPAIRED}
_OPPOSITE = {"A": "P", "P": "A", "R": "L", "L": "R", "H": "F", "F": "H"}
LOSSY_SYNTAXES = frozenset(
    {
        "1.2.840.10008.1.2.4.50",  # JPEG baseline
        "1.2.840.10008.1.2.4.51",  # JPEG extended
        "1.2.840.10008.1.2.4.81",  # JPEG-LS near-lossless
    }
)


def header_facts(header: Header, values: Values) -> tuple[HeaderFacts, tuple[Finding, ...]]:
    """Facts of a header, and findings about what is unreadable or contradictory.

    `values.findings` (single unreadable values) is left to the caller to collect once.
    """
    name = header.name
    findings: list[Finding] = []
    scale, scale_findings = header_scale(values, name=name)
    orientation = _orientation(values, name, findings)
    views = _StatedViews(
        position=values.word("ViewPosition"), code=_view_code(values), orientation=orientation
    )
    burned = {"YES": True, "NO": False}.get(values.word("BurnedInAnnotation") or "")
    if burned:
        findings.append(remark("film-burned-in", f"{name}: text or marks are burned into the picture."))
    lossy = {"01": True, "00": False}.get(values.text("LossyImageCompression") or "")
    if lossy or header.syntax in LOSSY_SYNTAXES:
        lossy = True
        findings.append(remark("film-lossy", f"{name}: the picture has been compressed with loss."))
    facts = HeaderFacts(
        kind=FileKind.DICOM,
        rows=values.whole("Rows") or 0,
        columns=values.whole("Columns") or 0,
        bits_stored=values.whole("BitsStored") or 0,
        photometric=values.word("PhotometricInterpretation") or "",
        transfer_syntax=header.syntax_name,
        modality=values.word("Modality"),
        sop_class_uid=values.text("SOPClassUID"),
        sop_instance_uid=values.text("SOPInstanceUID"),
        scale=scale,
        calibration_description=values.text("PixelSpacingCalibrationDescription"),
        laterality=_laterality(values, name, findings),
        view_position=views.position,
        view_code=views.code[0],
        projection=_projection(views, name, findings),
        patient_orientation=orientation,
        right_side_at=_viewer_side(orientation, "R"),
        anterior_at=_viewer_side(orientation, "A"),
        body_part=values.word("BodyPartExamined"),
        study_date=values.day("StudyDate"),
        acquisition_date=values.day("AcquisitionDate"),
        patient_id=values.text("PatientID"),
        patient_sex=values.word("PatientSex"),
        patient_birth_date=values.day("PatientBirthDate"),
        burned_in_annotation=burned,
        presentation_intent=values.word("PresentationIntentType"),
        intensity_relationship=values.word("PixelIntensityRelationship"),
        lossy=lossy,
    )
    return facts, (*scale_findings, *findings)


def _laterality(values: Values, name: str, findings: list[Finding]) -> MarkedSide | None:
    stated = {}
    for keyword in ("ImageLaterality", "Laterality"):
        word = values.word(keyword)
        if word is None:
            continue
        if word in _SIDES:
            stated[keyword] = _SIDES[word]
        else:
            values.unreadable(keyword, f"is '{word[:60]}', expected R, L, B or U.")
    if len(set(stated.values())) > 1:
        findings.append(
            remark(
                "film-laterality-contradiction",
                f"{name}: Image Laterality (0020,0062) says {stated['ImageLaterality']}, Laterality "
                f"(0020,0060) says {stated['Laterality']}; neither is used.",
            )
        )
        return None
    return next(iter(stated.values()), None)


def _orientation(values: Values, name: str, findings: list[Finding]) -> tuple[str, str] | None:
    text = values.word("PatientOrientation")
    if text is None or not text.replace("\\", "").strip():
        return None
    parts = tuple(part.strip() for part in text.split("\\"))
    sound = len(parts) == 2 and all(_is_direction(part) for part in parts)
    # The two directions stand at right angles, so the leading letters belong to different body axes.
    if not sound or parts[1][0] in (parts[0][0], _OPPOSITE[parts[0][0]]):
        findings.append(
            remark(
                "film-orientation-unreadable",
                f"{name}: Patient Orientation (0020,0020) is '{text[:60]}', expected two directions such as "
                "'L\\F'; it is not used.",
            )
        )
        return None
    if parts[0][0] == "R":
        words = f"{name}: Patient Orientation is '{text}': the patient's right appears at the viewer's right."
        findings.append(remark("film-seen-from-behind", words))
    if parts[1][0] == "H":
        findings.append(remark("film-upside-down", f"{name}: Patient Orientation is '{text}'."))
    return parts[0], parts[1]


def _is_direction(word: str) -> bool:
    """One to three letters, no letter twice and no letter with its opposite."""
    letters = set(word)
    return (
        1 <= len(word) == len(letters) <= 3
        and letters <= set(_OPPOSITE)
        and not any(_OPPOSITE[letter] in letters for letter in letters)
    )


def _viewer_side(orientation: tuple[str, str] | None, toward: str) -> ViewerSide | None:
    """Where a body direction appears, when the row's leading letter is on its axis."""
    if orientation is None:
        return None
    leading = orientation[0][0]
    if leading == toward:
        return ViewerSide.VIEWER_RIGHT
    return ViewerSide.VIEWER_LEFT if leading == _OPPOSITE[toward] else None


@cache
def _views() -> dict[tuple[str, str], Projection]:
    return {
        (row.text("scheme"), row.text("word")): Projection(row.text("projection"))
        for row in table("film/reading", "views")
    }


def _view_code(values: Values) -> tuple[str | None, Projection | None]:
    """Meaning of the view code in the header's words, and the projection when the code is known."""
    items = values.items("ViewCodeSequence")
    if len(items) != 1:
        return None, None
    code = Values(items[0], "view code")
    scheme = code.word("CodingSchemeDesignator") or ""
    value = code.word("CodeValue") or ""
    # Archives write SNM3 and 99SDM for the same retired SNOMED codes.
    scheme = "SRT" if scheme in ("SNM3", "99SDM") else scheme
    meaning = code.text("CodeMeaning") or value or None
    values.findings.extend(code.findings)
    return meaning, _views().get((scheme, value))


@dataclass(frozen=True, slots=True, kw_only=True)
class _StatedViews:
    """The three places where a header tells the projection."""

    position: str | None
    code: tuple[str | None, Projection | None]
    orientation: tuple[str, str] | None


def _projection(views: _StatedViews, name: str, findings: list[Finding]) -> Projection | None:
    stated = {}
    by_position = _views().get(("view position", views.position or ""))
    if by_position:
        stated[f"View Position '{views.position}'"] = by_position
    words, by_code = views.code
    if by_code:
        stated[f"view code '{words}'"] = by_code
    if views.orientation:
        axes = {views.orientation[0][0], views.orientation[1][0]}
        label = "Patient Orientation " + "\\".join(views.orientation)
        if axes & set("HF") and axes & set("RL"):
            stated[label] = Projection.FRONTAL
        elif axes & set("HF") and axes & set("AP"):
            stated[label] = Projection.SAGITTAL
    if len(set(stated.values())) > 1:
        told = "; ".join(f"{where} means {projection}" for where, projection in stated.items())
        findings.append(remark("film-view-contradiction", f"{name}: {told}. None is used."))
        return None
    return next(iter(stated.values()), None)
