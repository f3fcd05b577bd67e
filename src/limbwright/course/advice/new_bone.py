"""New bone against the time it usually takes in that bone: slow, poor, early; narrow, lucent."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.healing import HealingBand
from limbwright.course.new_bone import NewBoneTexture
from limbwright.course.standing import Standing
from limbwright.film.new_bone import NewBoneShape
from limbwright.finding import Finding, Number, Severity
from limbwright.plan.rule import rule_source
from limbwright.published import Source, Status

WARNING_SIGNS = Source(
    text="Devmurari et al., Callus features of regenerate fracture cases, Skeletal Radiol 2010 (lucent path; "
    "concave, lateral or atypical shape)",
    status=Status.VERIFIED,
)
SURGICAL = (
    "shortening and lengthening in turn, injection of marrow aspirate, bone graft, exchange of the nail"
)
OPTIONS = f"a slower rate, a rest, {SURGICAL}"


def new_bone(s: Standing) -> Iterator[Said]:
    """New bone at the latest visit that read it."""
    new = s.new_bone
    if new is None or s.treatment.consolidated_on is not None:
        return
    early = list(_early(s))
    yield from early
    if not early:
        yield from _late(s)
    yield from _looks(s)


def _late(s: Standing) -> Iterator[Said]:
    """Healing foreseen against the band of that bone, for the length prescribed."""
    band, likely = s.healing, s.ahead.healed_day.likely
    new = s.new_bone
    if band is None or new is None or new.carrying_ratio(default_sd=0.0) is None:
        return
    mm = s.treatment.target_mm / 10
    mean, sd = band.index.value * mm, band.index.sd * mm
    read_on = max(s.treatment.day_number(v.seen_on) for v in s.visits if v.new_bone_of(s.bone) is not None)
    if not s.lengthening and likely is not None and likely <= s.today and read_on < s.today:
        # Nobody looked: when it healed is not known, so nothing says that it was late.
        yield _unread(s, read_on, _numbers(s, band))
        return
    behind = float("inf") if likely is None else (likely - mean) / sd
    found = _numbers(s, band)
    when = (
        "no day of healing can be foreseen" if likely is None else f"healing is foreseen about day {likely}"
    )
    seen = (
        f"New bone of the {s.bone} on day {s.today} at {s.now.length.value:.0f} mm: density of the deciding "
        f"cortex {s.now.ratio.value:.2f} of healthy bone; {when}, usual for {s.treatment.target_mm:g} mm "
        "is day "
        f"{mean:.0f} ± {sd:.0f}."
    )
    if behind >= s.profile.new_bone_poor_sd:
        yield Said(
            Finding(
                id="new-bone-poor",
                severity=Severity.CAUTION,
                words=f"{seen} That is poor.",
                next_step=f"Things to consider: {OPTIONS if s.lengthening else SURGICAL}. Ask about smoking, "
                "vitamin D and weight borne.",
                numbers=found,
                rule="Healing later than the mean by new_bone_poor_sd standard deviations between patients "
                "is poor.",
                source=rule_source(s.profile, "new_bone_poor_sd", _index_name(s)),
            ),
            Pace.HOLD if s.lengthening else None,
            sooner=True,
        )
    elif behind >= s.profile.new_bone_slow_sd:
        yield Said(
            Finding(
                id="new-bone-slow",
                severity=Severity.CAUTION,
                words=f"{seen} That is slow.",
                next_step="Consider a slower rate and a sooner film; ask about smoking and vitamin D."
                if s.lengthening
                else "Consider a sooner film; ask about smoking, vitamin D and weight borne.",
                numbers=found,
                rule="Healing later than the mean by new_bone_slow_sd standard deviations between patients "
                "is slow.",
                source=rule_source(s.profile, "new_bone_slow_sd", _index_name(s)),
            ),
            Pace.SLOW if s.lengthening else None,
            sooner=True,
        )


def _unread(s: Standing, read_on: int, found: tuple[Number, ...]) -> Said:
    """New bone that is healed by now if it went on as it was, on films that nobody took."""
    return Said(
        Finding(
            id="new-bone-unread",
            severity=Severity.CAUTION,
            words=f"New bone of the {s.bone} was read last on day {read_on}; carried forward to day "
            f"{s.today} its deciding cortex has {s.now.ratio.value:.2f} of the density of healthy bone, as "
            "healed bone has. No film has shown it.",
            next_step="Take films in both planes and read the cortices; healing is called on films.",
            numbers=(*found, *numbers(("new bone read last on day", read_on, "d"))),
            rule="Density from pixel_value_ratio_healed on counts as healed once a film shows it.",
            source=rule_source(s.profile, "pixel_value_ratio_healed"),
        ),
        sooner=True,
    )


def _early(s: Standing) -> Iterator[Said]:
    """Cortices that carry while lengthening is not done; worse when the nail no longer lengthens the bone."""
    carry = s.cortices_that_carry()
    left = s.treatment.target_mm - s.now.length.value
    if (
        not s.lengthening
        or carry is None
        or left < s.profile.early_bridging_left_mm
        or carry < s.profile.partial_weight_cortices
    ):
        return
    found = numbers(("cortices that carry", carry, ""), ("length left", left, "mm"))
    since = _gained_since_last_film(s)
    if since is not None and since[0] < s.profile.premature_gain_percent / 100 * since[1]:
        yield Said(
            Finding(
                id="premature-consolidation",
                severity=Severity.STOP,
                words=f"{carry} of 4 cortices carry with {left:.0f} mm to go, and of {since[1]:g} mm "
                "reported "
                f"since the last film the {s.bone} gained {since[0]:.1f} mm: the bone may have closed.",
                next_step="Stop the doses and call the surgeon; a new osteotomy may be considered.",
                numbers=(*found, *numbers(("gained", since[0], "mm"), ("reported", since[1], "mm"))),
                rule="Bridged cortices with less than premature_gain_percent of the reported length gained "
                "mean "
                "early closing.",
                source=rule_source(s.profile, "partial_weight_cortices", "premature_gain_percent"),
            ),
            Pace.HOLD,
            sooner=True,
        )
        return
    yield Said(
        Finding(
            id="new-bone-bridging-early",
            severity=Severity.CAUTION,
            words=f"{carry} of 4 cortices carry already, with {left:.0f} mm to go.",
            next_step=f"Consider a quicker rate, up to {s.profile.quickened_rate_mm_per_day:g} mm a day, "
            "and a "
            "sooner film.",
            numbers=found,
            rule="From partial_weight_cortices bridged on while lengthening goes on, new bone is early.",
            source=rule_source(s.profile, "partial_weight_cortices", "quickened_rate_mm_per_day"),
        ),
        Pace.QUICKEN,
        sooner=True,
    )


def _gained_since_last_film(s: Standing) -> tuple[float, float] | None:
    """Measured and reported gain between the last two films; None with fewer films or little reported."""
    films = [d for d in s.book.days if d.measured is not None]
    if len(films) < 2 or films[-1].reported_mm - films[-2].reported_mm < s.profile.length_disagreement_mm:
        return None
    a, b = films[-2], films[-1]
    assert a.measured is not None
    assert b.measured is not None
    return b.measured.value - a.measured.value, b.reported_mm - a.reported_mm


def _looks(s: Standing) -> Iterator[Said]:
    """Width, shape and texture."""
    new = s.new_bone
    if new is None:
        return
    p = s.profile
    if new.width_ratio is not None and new.width_ratio < p.callus_diameter_ratio_watch:
        alert = new.width_ratio < p.callus_diameter_ratio_alert
        name = "callus_diameter_ratio_alert" if alert else "callus_diameter_ratio_watch"
        yield Said(
            Finding(
                id="new-bone-narrow",
                severity=Severity.CAUTION if alert else Severity.NOTE,
                words=f"New bone is {new.width_ratio:.2f} of the bone's width at its narrowest.",
                next_step="Expect later full weight; bending or fracture after removal of the nail is more "
                "likely.",
                numbers=numbers(
                    ("width ratio", new.width_ratio, ""),
                    ("watch below", p.callus_diameter_ratio_watch, ""),
                    ("alert below", p.callus_diameter_ratio_alert, ""),
                ),
                rule=f"A width ratio below {name} is pointed out.",
                source=rule_source(p, name),
            )
        )
    signs = [
        word
        for word, bad in (
            ("lucent", new.texture is NewBoneTexture.LUCENT),
            ("concave", new.shape is NewBoneShape.CONCAVE),
            ("one-sided", new.shape is NewBoneShape.LATERAL),
        )
        if bad
    ]
    if signs:
        yield Said(
            Finding(
                id="new-bone-warning-sign",
                severity=Severity.CAUTION,
                words=f"New bone of the {s.bone} looks {' and '.join(signs)}, as it does more often before a "
                "fracture.",
                next_step=f"Things to consider: {OPTIONS if s.lengthening else SURGICAL}.",
                rule="Lucent texture, concave or one-sided shape are warning signs.",
                source=WARNING_SIGNS,
            ),
            Pace.SLOW if s.lengthening else None,
            sooner=True,
        )


def _numbers(s: Standing, band: HealingBand) -> tuple[Number, ...]:
    found = numbers(
        ("day", s.today, "d"),
        ("length gained", s.now.length.value, "mm"),
        ("density of the deciding cortex", s.now.ratio.value, ""),
        ("healing index, mean", band.index.value, "days/cm"),
        ("healing index, standard deviation", band.index.sd, "days/cm"),
    )
    likely = s.ahead.healed_day.likely
    return found if likely is None else (*found, *numbers(("day of healing foreseen", likely, "d")))


def _index_name(s: Standing) -> str:
    if s.bone.value == "tibia":
        return "healing_index_tibia_days_per_cm"
    entry = "retrograde" if s.facts.retrograde else "antegrade"
    return f"healing_index_femur_{entry}_days_per_cm"
