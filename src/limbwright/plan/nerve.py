"""Caution for the peroneal nerve: how much valgus or flexion is taken out, at once or gradually."""

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import table


def nerve_stretch_deg(
    *, valgus_before_deg: float, valgus_after_deg: float, flexion_before_deg: float, flexion_after_deg: float
) -> tuple[float, float]:
    """Valgus, and flexion, taken out by a correction: what stretches the peroneal nerve. [deg]

    Parameters
    ----------
    valgus_before_deg, valgus_after_deg : float
        Valgus +; varus is negative. [deg]
    flexion_before_deg, flexion_after_deg : float
        Deformity that holds the knee region bent (procurvatum, flexion contracture) +. [deg]

    Returns
    -------
    tuple of float
        Valgus and flexion taken out, each 0 when the correction goes the other way and slackens the nerve.
    """
    return (
        max(0.0, valgus_before_deg - valgus_after_deg),
        max(0.0, flexion_before_deg - flexion_after_deg),
    )


def nerve_findings(
    *,
    bone: Bone,
    valgus_taken_out_deg: float,
    flexion_taken_out_deg: float,
    acute: bool,
    lengthening_mm: float,
    profile: Profile,
) -> tuple[Finding, ...]:
    """Caution for the peroneal nerve when a correction stretches it, and what to watch while lengthening.

    Parameters
    ----------
    bone : Bone
        Bone that is corrected and lengthened.
    valgus_taken_out_deg, flexion_taken_out_deg : float
        From `nerve_stretch_deg`. [deg]
    acute : bool
        True for a correction made at the operation, as over a nail.
    lengthening_mm : float
        Length to gain. [mm]
    profile : Profile
        The surgeon's limits.
    """
    limit = profile.nerve_caution_acute_deg if acute else profile.nerve_caution_gradual_deg
    name = "nerve_caution_acute_deg" if acute else "nerve_caution_gradual_deg"
    how = "at once" if acute else "gradually"
    taken = ((valgus_taken_out_deg, "valgus"), (flexion_taken_out_deg, "flexion"))
    over = [(deg, what) for deg, what in taken if deg > limit]
    found = []
    if over:
        amount = " and ".join(f"{deg:.1f} degrees of {what}" for deg, what in over)
        found.append(
            Finding(
                id="nerve-stretched-by-correction",
                severity=Severity.CAUTION,
                words=f"The correction in the {bone} takes out {amount} {how}, more than {limit:g} degrees: "
                "the peroneal nerve is stretched.",
                next_step="Consider decompressing the nerve at the fibular neck first, or correcting more "
                "slowly.",
                numbers=tuple(Number(name=f"{what} taken out", value=deg, unit="deg") for deg, what in over),
                rule="Valgus or flexion taken out calls for care of the peroneal nerve: at once beyond "
                f"{profile.nerve_caution_acute_deg:g}, gradually beyond "
                f"{profile.nerve_caution_gradual_deg:g} degrees.",
                source=rule_source(profile, name),
            )
        )
    if lengthening_mm > 0:
        row = next(r for r in table("plan", "soft_tissue") if r.text("quantity") == "nerve_lesions")
        seen, of = row.number("value"), row.number("high")
        found.append(
            Finding(
                id="nerve-watch-while-lengthening",
                severity=Severity.NOTE,
                words=f"Nerves can suffer while the {bone} lengthens: {seen:.0f} of {of:.0f} lengthenings "
                "in one series. First signs are numbness of the first web space and weak toe extension.",
                next_step="Test both at every visit; slow or stop early, decompress if they do not improve "
                "in days.",
                numbers=(
                    Number(name="nerve lesions", value=seen, unit=""),
                    Number(name="lengthenings", value=of, unit=""),
                ),
                rule="Earlier decompression gave earlier recovery.",
                source=row.source,
            )
        )
    return tuple(found)
