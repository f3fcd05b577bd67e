from datetime import date

import film_files as files
import pytest
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence

from limbwright.film.film import ViewerSide
from limbwright.film.reading import MarkedSide, read_facts
from limbwright.limb.anatomy import Projection, Side


def _code(value: str, scheme: str, meaning: str = "view") -> Sequence:
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return Sequence([item])


def _facts(**elements):
    return read_facts(files.film(**elements), name="film")


def test_plain_facts_are_read_and_the_name_is_not():
    read = _facts(
        BodyPartExamined="LEG",
        AcquisitionDate="20260311",
        PresentationIntentType="FOR PRESENTATION",
        PixelIntensityRelationship="LOG",
    )
    facts = read.facts
    assert (facts.modality, facts.body_part) == ("DX", "LEG")
    assert (facts.study_date, facts.acquisition_date) == (date(2026, 3, 12), date(2026, 3, 11))
    assert facts.patient_birth_date == date(2012, 2, 29)
    assert (facts.patient_id, facts.patient_sex) == ("INVENTED-1", "F")
    assert facts.sop_instance_uid == "1.2.826.0.1.3680043.8.498.1"
    assert (facts.presentation_intent, facts.intensity_relationship) == ("FOR PRESENTATION", "LOG")
    assert facts.transfer_syntax == "Explicit VR Little Endian"
    assert "Invented^Person" not in repr(read)
    assert read.findings == ()


@pytest.mark.parametrize("syntax", files.NATIVE)
def test_facts_do_not_depend_on_the_encoding(syntax):
    expected = _facts(Laterality="L", PixelSpacing=[0.14, 0.14]).facts
    facts = read_facts(
        files.film(syntax=syntax, Laterality="L", PixelSpacing=[0.14, 0.14]), name="film"
    ).facts
    assert (facts.laterality, facts.scale, facts.patient_id) == (
        expected.laterality,
        expected.scale,
        expected.patient_id,
    )


@pytest.mark.parametrize(
    ("written", "side"),
    [("R", MarkedSide.RIGHT), ("L", MarkedSide.LEFT), ("B", MarkedSide.BOTH), ("U", MarkedSide.UNPAIRED)],
)
def test_laterality_is_read_from_either_place(written, side):
    assert _facts(Laterality=written).facts.laterality is side
    assert _facts(ImageLaterality=written).facts.laterality is side
    assert _facts(ImageLaterality=written, Laterality=written).findings == ()


def test_only_one_sided_marks_name_a_side():
    assert MarkedSide.RIGHT.side() is Side.RIGHT
    assert MarkedSide.LEFT.side() is Side.LEFT
    assert MarkedSide.BOTH.side() is MarkedSide.UNPAIRED.side() is None


def test_contradictory_laterality_is_a_stop_and_not_used():
    read = _facts(ImageLaterality="R", Laterality="L")
    assert read.facts.laterality is None
    (finding,) = read.findings
    assert (finding.id, finding.severity) == ("film-laterality-contradiction", "stop")
    assert "says right, Laterality (0020,0060) says left" in finding.words


def test_an_unknown_laterality_word_is_left_out_with_a_finding():
    read = _facts(Laterality="RIGHT?")
    assert read.facts.laterality is None
    assert files.ids(read) == {"film-header-value-unreadable"}


@pytest.mark.parametrize(
    ("elements", "projection"),
    [
        ({"ViewPosition": "AP"}, Projection.FRONTAL),
        ({"ViewPosition": "PA"}, Projection.FRONTAL),
        ({"ViewPosition": "LL"}, Projection.SAGITTAL),
        ({"ViewPosition": "OBL"}, None),
        ({"ViewCodeSequence": _code("399348003", "SCT")}, Projection.FRONTAL),
        ({"ViewCodeSequence": _code("399260004", "SCT")}, Projection.SAGITTAL),
        ({"ViewCodeSequence": _code("R-10206", "SNM3")}, Projection.FRONTAL),
        ({"ViewCodeSequence": _code("R-10236", "SRT")}, Projection.SAGITTAL),
        ({"ViewCodeSequence": _code("12345", "SCT")}, None),
        ({"PatientOrientation": ["L", "F"]}, Projection.FRONTAL),
        ({"PatientOrientation": ["A", "F"]}, Projection.SAGITTAL),
        ({"ViewPosition": "AP", "PatientOrientation": ["L", "F"]}, Projection.FRONTAL),
        ({}, None),
    ],
)
def test_projection_is_read_from_any_of_three_places(elements, projection):
    read = _facts(**elements)
    assert read.facts.projection is projection
    assert read.findings == ()


def test_contradictory_views_are_not_used():
    read = _facts(ViewPosition="AP", PatientOrientation=["A", "F"])
    assert read.facts.projection is None
    assert files.ids(read) == {"film-view-contradiction"}
    read = _facts(ViewPosition="AP", ViewCodeSequence=_code("399067008", "SCT", "lateral"))
    assert "view code 'lateral' means sagittal" in read.findings[0].words


@pytest.mark.parametrize(
    ("orientation", "right_at", "anterior_at"),
    [
        (["L", "F"], ViewerSide.VIEWER_LEFT, None),
        (["A", "F"], None, ViewerSide.VIEWER_RIGHT),
        (["P", "F"], None, ViewerSide.VIEWER_LEFT),
        (["LP", "FP"], ViewerSide.VIEWER_LEFT, None),
    ],
)
def test_sides_on_the_screen_follow_from_the_orientation(orientation, right_at, anterior_at):
    read = _facts(PatientOrientation=orientation)
    assert read.facts.patient_orientation == tuple(orientation)
    assert (read.facts.right_side_at, read.facts.anterior_at) == (right_at, anterior_at)
    assert read.findings == ()


def test_a_film_seen_from_behind_is_said():
    read = _facts(PatientOrientation=["R", "F"])
    assert read.facts.right_side_at is ViewerSide.VIEWER_RIGHT
    assert files.ids(read) == {"film-seen-from-behind"}


def test_a_film_upside_down_is_said():
    assert files.ids(_facts(PatientOrientation=["L", "H"])) == {"film-upside-down"}


@pytest.mark.parametrize(
    "orientation",
    [["X", "F"], ["L"], ["L", "F", "A"], ["LR", "F"], ["L", "R"], ["L", "L"], ["LLL", "F"], ["LEFT", "FOOT"]],
)
def test_wrong_orientation_words_are_left_out_with_a_finding(orientation):
    read = _facts(PatientOrientation=orientation)
    assert read.facts.patient_orientation is None
    assert read.facts.right_side_at is None
    assert "film-orientation-unreadable" in files.ids(read)


@pytest.mark.parametrize("orientation", ["", None])
def test_an_empty_orientation_is_no_finding(orientation):
    elements = {} if orientation is None else {"PatientOrientation": orientation}
    assert _facts(**elements).findings == ()


@pytest.mark.parametrize(("written", "read_as"), [("YES", True), ("NO", False), ("MAYBE", None)])
def test_burned_in_marks(written, read_as):
    read = _facts(BurnedInAnnotation=written)
    assert read.facts.burned_in_annotation is read_as
    assert ("film-burned-in" in files.ids(read)) is (read_as is True)


@pytest.mark.parametrize(("written", "lossy"), [("00", False), ("01", True)])
def test_lossy_compression_is_said(written, lossy):
    read = _facts(LossyImageCompression=written)
    assert read.facts.lossy is lossy
    assert ("film-lossy" in files.ids(read)) is lossy


@pytest.mark.parametrize("day", ["20260230", "2026", "yesterday", "99999999"])
def test_days_that_are_none_are_left_out_with_a_finding(day):
    read = _facts(StudyDate=day)
    assert read.facts.study_date is None
    assert "film-header-value-unreadable" in files.ids(read)
    assert any("Study Date (0008,0020) is" in finding.words for finding in read.findings)


def test_a_day_written_the_old_way_is_read():
    assert _facts(StudyDate="2026.03.12").facts.study_date == date(2026, 3, 12)


def test_non_ascii_names_and_ids_are_no_obstacle():
    read = _facts(SpecificCharacterSet="ISO_IR 192", PatientName="Łukasz^Ærø", PatientID="ИД-7")
    assert read.facts.patient_id == "ИД-7"
    assert read.findings == ()
    japanese = _facts(SpecificCharacterSet=["", "ISO 2022 IR 87"], PatientName="Yamada^Tarou=山田^太郎")
    assert japanese.findings == ()


def test_private_tags_are_read_over():
    ds = files.dataset(files.shaft())
    block = ds.private_block(0x0009, "INVENTED", create=True)
    block.add_new(0x01, "UN", b"\xff" * 33)
    block.add_new(0x02, "SQ", Sequence([Dataset()]))
    assert read_facts(files.written(ds), name="film").findings == ()
