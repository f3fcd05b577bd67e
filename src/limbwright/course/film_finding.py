"""What a reader of one follow-up film must weigh: nail against gap, a tilted nail, overlap seen."""

from collections.abc import Iterator

from limbwright.course.film_reading import FilmReading
from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile


def film_findings(read: FilmReading, profile: Profile) -> tuple[Finding, ...]:
    """Findings about one film, worst first."""
    return ordered((*_slip(read, profile), *_tilt(read, profile), *_overlap(read, profile)))


def _slip(read: FilmReading, profile: Profile) -> Iterator[Finding]:
    if read.slip_mm is None or read.gained_by_nail is None or read.gained_by_gap is None:
        return
    more = read.slip_mm > 0
    yield Finding(
        id="nail-and-gap-disagree",
        severity=Severity.CAUTION,
        words=f"The nail has lengthened by {read.gained_by_nail.value:.1f} mm and the gap by "
        f"{read.gained_by_gap.value:.1f} mm: {abs(read.slip_mm):.1f} mm {'less' if more else 'more'} than "
        "the "
        "nail gave.",
        next_step="Look for slipping or bending locking screws and a bone that closes early."
        if more
        else "Check the marks of nail ends and osteotomy edges.",
        numbers=(
            Number(name="by nail", value=read.gained_by_nail.value, unit="mm"),
            Number(name="by gap", value=read.gained_by_gap.value, unit="mm"),
        ),
        rule="Length by nail and by gap agree within nail_gap_agree_sd.",
        source=rule_source(profile, "nail_gap_agree_sd"),
    )


def _tilt(read: FilmReading, profile: Profile) -> Iterator[Finding]:
    tilt, sd = read.scale.tilt_deg, read.scale.tilt_sd_deg
    if tilt is None or sd is None or tilt - profile.beyond_noise_sd * sd < profile.film_tilt_deg:
        return
    yield Finding(
        id="film-nail-tilted",
        severity=Severity.CAUTION,
        words=f"The nail lies {tilt:.0f} ± {profile.beyond_noise_sd * sd:.0f} deg out of the film's plane. "
        "Lengths "
        "along it are corrected for that; angles are not.",
        next_step="Do not compare angles with earlier films; take the film again with the leg in place.",
        numbers=(
            Number(name="tilt", value=tilt, unit="deg"),
            Number(name="limit", value=profile.film_tilt_deg, unit="deg"),
        ),
        rule="A nail tilted by more than film_tilt_deg is pointed out.",
        source=rule_source(profile, "film_tilt_deg"),
    )


def _overlap(read: FilmReading, profile: Profile) -> Iterator[Finding]:
    if read.overlap is None or read.overlap.value >= profile.overlap_mm:
        return
    yield Finding(
        id="film-overlap-short",
        severity=Severity.STOP if read.overlap.value <= 0 else Severity.CAUTION,
        words=f"The film shows {read.overlap.value:.0f} mm of the thick part inside the moving fragment; "
        f"{profile.overlap_mm:g} mm are wanted.",
        next_step="Weigh a lesser goal, and watch alignment more closely.",
        numbers=(
            Number(name="overlap", value=read.overlap.value, unit="mm"),
            Number(name="wanted", value=profile.overlap_mm, unit="mm"),
        ),
        rule="overlap_mm of the thick part stays inside the moving fragment.",
        source=rule_source(profile, "overlap_mm"),
    )
