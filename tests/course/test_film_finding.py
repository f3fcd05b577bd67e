from dataclasses import replace

from limbwright.course.film_finding import film_findings
from limbwright.course.film_reading import read_film
from limbwright.finding import Severity


def found(film, nail, profile, **shown):
    return {f.id: f for f in film_findings(read_film(film(**shown), film(), nail, profile), profile)}


def test_a_film_that_agrees_says_nothing(film, nail, profile):
    assert found(film, nail, profile, gap_mm=20.0) == {}


def test_a_slipping_nail_and_a_wrong_mark(film, nail, profile):
    slip = found(film, nail, profile, gap_mm=12.0, nail_mm=20.0)["nail-and-gap-disagree"]
    assert "lengthened by 20.0 mm and the gap by 12.0 mm: 8.0 mm less than the nail gave" in slip.words
    assert "slipping" in slip.next_step
    wrong = found(film, nail, profile, gap_mm=20.0, nail_mm=12.0)["nail-and-gap-disagree"]
    assert "Check the marks" in wrong.next_step


def test_a_tilted_nail(film, nail, profile):
    assert list(found(film, nail, profile, gap_mm=20.0, tilt_deg=25.0)) == ["film-nail-tilted"]
    assert found(film, nail, profile, gap_mm=20.0, tilt_deg=8.0) == {}


def test_overlap_seen_on_the_film(film, nail, profile):
    """Junction at 255 mm, edge at 120 mm plus gap: 135 mm less the gap."""
    own = replace(profile, overlap_mm=100.0)
    short = found(film, nail, own, gap_mm=40.0)["film-overlap-short"]
    assert short.severity is Severity.CAUTION
    assert "95 mm of the thick part" in short.words
    assert found(film, nail, own, gap_mm=34.0) == {}
    assert found(film, nail, profile, gap_mm=140.0)["film-overlap-short"].severity is Severity.STOP
