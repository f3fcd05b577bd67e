"""Every rule of steering: what raises it, and what does not."""

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from limbwright.course import change
from limbwright.course.advice.pace import RULES, advice
from limbwright.course.advice.said import Pace
from limbwright.course.clinical import Clinical, NerveSign, Wound
from limbwright.course.diary import DiaryEntry
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.hardware_sign import HardwareSign, HardwareSignKind
from limbwright.course.new_bone import NewBoneTexture
from limbwright.course.prescription import default_prescription
from limbwright.film.new_bone import NewBoneShape
from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone

WELL = Clinical(nerves_examined=True, ankle_dorsiflexion_deg=10.0, knee_extension_loss_deg=0.0)


@pytest.fixture(scope="module")
def femur(tibia, profile):
    return replace(
        tibia, prescription=default_prescription(profile, bone=Bone.FEMUR, age_years=30, target_mm=40)
    )


def said(s):
    return {one.finding.id: one for rule in RULES for one in rule(s)}


def examined(**values):
    return replace(WELL, **values)


def test_a_well_course_says_nothing_but_keep(tibia, stand, visit):
    s = stand(tibia, 28, visit(14, mm=6.2, varus=0.3), visit(28, mm=16.5, varus=-0.4))
    assert said(s) == {}
    found = advice(s)
    assert [f.id for f in found.findings] == ["advice-keep"]
    assert found.findings[0].words.endswith("the last dose is on day 53 (2026-04-24).")
    assert (found.pace, found.film_sooner, found.lesser_goal) == (Pace.KEEP, False, False)


def test_before_the_first_dose_and_without_visits_nothing_is_asked(tibia, stand, visit):
    assert said(stand(tibia, 5)) == {}
    assert said(stand(tibia, 5, visit(5, clinical=Clinical()))) == {}


# nerves


def test_nerve_signs_stop_and_call(tibia, stand, visit):
    s = stand(tibia, 28, visit(28, clinical=examined(nerve_signs=(NerveSign.NUMB_FIRST_WEB,))))
    one = said(s)["nerve-signs"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.HOLD)
    assert "numb first web space" in one.finding.words
    assert "call the surgeon today" in one.finding.next_step
    assert "nerve-weakness-stays" not in said(s)


def test_nerves_not_examined_are_asked_for_only_while_lengthening(tibia, stand, visit):
    silent = Clinical(ankle_dorsiflexion_deg=10.0)
    assert "nerves-not-examined" in said(stand(tibia, 28, visit(28, clinical=silent)))
    assert "nerves-not-examined" not in said(stand(tibia, 70, visit(70, clinical=silent)))


def test_weakness_that_stays_after_a_week_of_rest_speaks_for_shortening(tibia, stand, visit):
    weak = examined(nerve_signs=(NerveSign.WEAK_TOE_EXTENSION,))
    rested = change.amended(tibia, change.held(tibia, from_day=29, gained_mm=16.75, days=14))
    visits = (visit(28, clinical=weak), visit(36, clinical=weak))
    one = said(stand(rested, 36, *visits))["nerve-weakness-stays"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.REVERSE)
    assert "rested for 8 days" in one.finding.words
    found = advice(stand(rested, 36, *visits))
    assert found.pace is Pace.REVERSE
    assert "advice-reverse" in [f.id for f in found.findings]
    # without the rest, with the first sign only now, or with numbness alone, it does not
    assert "nerve-weakness-stays" not in said(stand(tibia, 36, *visits))
    assert "nerve-weakness-stays" not in said(stand(rested, 36, visit(28), visits[1]))
    numb = examined(nerve_signs=(NerveSign.NUMB_SOLE,))
    assert "nerve-weakness-stays" not in said(stand(rested, 36, visits[0], visit(36, clinical=numb)))


# ankle


@pytest.mark.parametrize(
    "case",
    [
        (5.0, None, None),
        (0.0, None, None),
        (-1.0, "ankle-tight", Pace.SLOW),
        (-10.0, "ankle-tight", Pace.SLOW),
        (-11.0, "equinus-beyond-limit", Pace.HOLD),
    ],
)
def test_the_ankle_while_lengthening(tibia, stand, visit, case):
    up, expected, pace = case
    found = said(stand(tibia, 28, visit(28, clinical=examined(ankle_dorsiflexion_deg=up))))
    assert list(found) == ([expected] if expected else [])
    if expected:
        assert found[expected].pace is pace


def test_the_bent_knee_tells_which_muscle_is_tight(tibia, stand, visit):
    for bent, muscle in ((12.0, "the gastrocnemius alone"), (1.0, "gastrocnemius and soleus")):
        clinical = examined(ankle_dorsiflexion_deg=-4.0, ankle_dorsiflexion_knee_bent_deg=bent)
        assert muscle in said(stand(tibia, 28, visit(28, clinical=clinical)))["ankle-tight"].finding.words


def test_equinus_after_lengthening_speaks_for_a_release(tibia, stand, visit):
    found = said(stand(tibia, 80, visit(80, clinical=examined(ankle_dorsiflexion_deg=-3.0))))
    assert list(found) == ["equinus-after-lengthening"]
    assert "calf release" in found["equinus-after-lengthening"].finding.next_step
    assert said(stand(tibia, 80, visit(80, clinical=examined(ankle_dorsiflexion_deg=0.0)))) == {}


def test_an_ankle_not_examined_is_asked_for(tibia, femur, stand, visit):
    silent = Clinical(nerves_examined=True)
    assert list(said(stand(tibia, 28, visit(28, clinical=silent)))) == ["ankle-not-examined"]
    assert said(stand(femur, 28, visit(28, clinical=silent))) == {}


# knee


@pytest.mark.parametrize(("loss", "fires"), [(9.0, False), (10.0, True)])
def test_knee_contracture_of_a_lengthening_tibia(tibia, stand, visit, loss, fires):
    found = said(stand(tibia, 28, visit(28, clinical=examined(knee_extension_loss_deg=loss))))
    assert ("knee-contracture" in found) is fires


@pytest.mark.parametrize(
    "case",
    [
        (95.0, None),
        (80.0, "knee-flexion-less-than-wanted"),
        (44.0, "knee-flexion-slow"),
        (39.0, "knee-flexion-stop"),
    ],
)
def test_knee_flexion_of_a_lengthening_femur(femur, tibia, stand, visit, case):
    flexion, expected = case
    bent = visit(28, clinical=examined(knee_flexion_deg=flexion))
    assert list(said(stand(femur, 28, bent))) == ([expected] if expected else [])
    assert said(stand(tibia, 28, bent)) == {}


def test_the_femur_allows_more_loss_of_extension(femur, stand, visit):
    assert said(stand(femur, 28, visit(28, clinical=examined(knee_extension_loss_deg=15.0)))) == {}
    assert "knee-contracture" in said(
        stand(femur, 28, visit(28, clinical=examined(knee_extension_loss_deg=20.0)))
    )


def test_a_joint_out_of_place_speaks_for_shortening(tibia, stand, visit):
    one = said(stand(tibia, 28, visit(28, clinical=examined(joint_subluxation=True))))["joint-subluxation"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.REVERSE)


# length


def test_missed_and_doubled_doses(tibia, stand, visit):
    def diary(steps):
        return replace(
            tibia,
            diary=tuple(
                DiaryEntry(on=date(2026, 3, 2) + timedelta(days=n), steps=steps) for n in range(20, 25)
            ),
        )

    one = said(stand(diary(0), 28, visit(28, mm=13.0)))
    assert list(one) == ["doses-differ"]
    assert one["doses-differ"].finding.words == (
        "Reported are 13 mm, prescribed are 16.75 mm: 3.75 mm missed."
    )
    assert {n.name: n.value for n in one["doses-differ"].finding.numbers}["steps missed by the diary"] == 15
    twice = said(stand(diary(6), 28, visit(28, mm=20.5)))["doses-differ"].finding.words
    assert "3.75 mm too much" in twice
    assert said(stand(diary(2), 28, visit(28, mm=15.5))) == {}


def test_a_film_that_shows_less_than_the_diary(tibia, stand, visit):
    found = said(stand(tibia, 28, visit(28, mm=13.0)))
    assert list(found) == ["length-differs-from-diary"]
    assert "3.8 mm less" in found["length-differs-from-diary"].finding.words
    assert found["length-differs-from-diary"].sooner
    assert (
        "3.2 mm more" in said(stand(tibia, 28, visit(28, mm=20.0)))["length-differs-from-diary"].finding.words
    )
    assert said(stand(tibia, 28, visit(28, mm=14.0))) == {}
    # an old film is not held against today's diary
    assert "length-differs-from-diary" not in said(stand(tibia, 28, visit(14, mm=1.0), visit(28)))


def test_a_bone_that_gets_shorter_stops(tibia, stand, visit):
    found = said(stand(tibia, 28, visit(14, mm=6.0), visit(28, mm=2.0)))
    one = found["length-wrong-direction"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.HOLD)
    assert "4.0 mm shorter since 2026-03-16" in one.finding.words
    assert "length-differs-from-diary" not in found
    assert "length-wrong-direction" not in said(stand(tibia, 28, visit(14, mm=6.0), visit(28, mm=5.0)))
    # a nail that goes in from the first day on
    assert "length-wrong-direction" in said(stand(tibia, 14, visit(14, mm=-4.0)))


def test_a_diary_in_the_wrong_direction(tibia, stand, visit):
    turned = replace(tibia, diary=(DiaryEntry(on=date(2026, 3, 20), steps=-3),))
    found = said(stand(turned, 28, visit(28, mm=15.5)))
    assert list(found) == ["diary-wrong-direction"]
    assert "the last on 2026-03-20" in found["diary-wrong-direction"].finding.words


# drift


def test_one_reading_beyond_the_watch_level_is_not_yet_drift(tibia, stand, visit):
    found = said(stand(tibia, 14, visit(14, mm=6.0, varus=-2.5)))
    assert list(found) == ["drift-not-told-from-noise"]
    assert found["drift-not-told-from-noise"].pace is None
    assert said(stand(tibia, 14, visit(14, mm=6.0, varus=-1.9))) == {}


def test_drift_that_will_pass_the_limit_names_the_day(tibia, stand, visit):
    visits = (visit(14, mm=6.0, varus=-1.5), visit(28, mm=16.5, varus=-4.2))
    one = said(stand(tibia, 28, *visits))["drift-will-cross"]
    assert (one.finding.severity, one.pace, one.sooner) == (Severity.CAUTION, None, True)
    assert "drifts into valgus" in one.finding.words
    assert "with a probability of 42 %, at the earliest (10 %) on day" in one.finding.words
    assert "more likely than not" not in one.finding.words
    more = (*visits, visit(42, mm=27.0, varus=-5.0))
    words = said(stand(tibia, 42, *more))["drift-will-cross"].finding.words
    assert re.search(r"more likely than not by day \d+ \(2026-04-\d+\) at \d+ mm", words)
    # what most bones do is believed until the films say otherwise
    mild = (visit(14, mm=6.0, varus=-0.5), visit(28, mm=16.5, varus=-1.8))
    assert said(stand(tibia, 28, *mild)) == {}


def test_drift_beyond_the_limit_stops(tibia, stand, visit):
    visits = tuple(visit(n, varus=v) for n, v in ((14, -1.5), (28, -4.0), (42, -6.5)))
    one = said(stand(tibia, 42, *visits))["drift-beyond-limit"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.HOLD)
    assert "valgus" in one.finding.words
    assert "Consider a rest" in one.finding.next_step
    after = said(stand(tibia, 60, *visits, visit(60, varus=-6.5)))["drift-beyond-limit"]
    assert after.pace is None
    assert "a rest" not in after.finding.next_step


def test_real_drift_below_the_limit_is_watched(tibia, stand, visit):
    visits = tuple(visit(n, procurvatum=v) for n, v in ((28, 3.8), (42, 4.1), (56, 4.2), (70, 4.2)))
    found = said(stand(tibia, 70, *visits))
    assert list(found) == ["drift-real"]
    assert "procurvatum" in found["drift-real"].finding.words


# new bone


def test_slow_and_poor_new_bone(tibia, stand, visit):
    slow = said(stand(tibia, 42, visit(28, ratios=(0.70,) * 4), visit(42, ratios=(0.70,) * 4)))
    assert list(slow) == ["new-bone-slow"]
    assert slow["new-bone-slow"].pace is Pace.SLOW
    assert "usual for 35 mm is day 144 ± 61" in slow["new-bone-slow"].finding.words
    poor = said(stand(tibia, 42, visit(28, ratios=(0.62,) * 4), visit(42, ratios=(0.61,) * 4)))
    assert list(poor) == ["new-bone-poor"]
    assert poor["new-bone-poor"].pace is Pace.HOLD
    assert "Things to consider" in poor["new-bone-poor"].finding.next_step
    good = said(stand(tibia, 42, visit(28, ratios=(0.77,) * 4), visit(42, ratios=(0.79,) * 4)))
    assert good == {}


def test_after_lengthening_slow_new_bone_says_nothing_about_pace(tibia, stand, visit):
    found = said(stand(tibia, 80, *(visit(n, ratios=(0.72,) * 4) for n in (42, 56, 80))))
    assert {one.pace for one in found.values()} == {None}
    assert found
    steps = " ".join(one.finding.next_step for one in found.values())
    assert "slower rate" not in steps
    assert "a rest" not in steps


def test_new_bone_that_nobody_looked_at_is_not_called_late(tibia, stand, visit):
    visits = tuple(visit(n, ratios=(r,) * 4) for n, r in ((42, 0.78), (56, 0.80), (70, 0.82)))
    found = said(stand(tibia, 330, *visits))
    assert "new-bone-unread" in found
    assert not {"new-bone-slow", "new-bone-poor"} & set(found)
    assert "read last on day 70; carried forward to day 330" in found["new-bone-unread"].finding.words
    assert found["new-bone-unread"].sooner
    assert "new-bone-unread" not in said(stand(tibia, 72, *visits))


def test_the_femur_is_expected_sooner_than_the_tibia(tibia, femur, stand, visit):
    ratios = (0.775,) * 4
    assert said(stand(tibia, 42, visit(42, ratios=ratios))) == {}
    slow = said(stand(femur, 70, *(visit(n, ratios=(0.755,) * 4, bone=Bone.FEMUR) for n in (42, 56, 70))))
    assert list(slow) == ["new-bone-slow"] or list(slow) == ["new-bone-poor"]
    tibial = said(stand(tibia, 70, *(visit(n, ratios=(0.755,) * 4) for n in (42, 56, 70))))
    assert "new-bone-poor" not in tibial


def test_early_bridging_speaks_for_a_quicker_rate(tibia, stand, visit):
    found = said(stand(tibia, 28, visit(28, mm=16.5, bridged=(True, True, False, False))))
    assert list(found) == ["new-bone-bridging-early"]
    assert found["new-bone-bridging-early"].pace is Pace.QUICKEN
    assert said(stand(tibia, 28, visit(28, mm=16.5, bridged=(True, False, False, False)))) == {}
    # near the end it no longer matters
    assert "new-bone-bridging-early" not in said(stand(tibia, 50, visit(50, mm=32.5, bridged=(True,) * 4)))


def test_bridged_and_no_longer_gaining_is_closed(tibia, stand, visit):
    visits = (visit(14, mm=6.2), visit(28, mm=9.5, bridged=(True, True, True, False)))
    one = said(stand(tibia, 28, *visits))["premature-consolidation"]
    assert (one.finding.severity, one.pace) == (Severity.STOP, Pace.HOLD)


def test_narrow_and_lucent_new_bone(tibia, stand, visit):
    assert said(stand(tibia, 60, visit(60, new={"width_ratio": 0.9}))) == {}
    watch = said(stand(tibia, 60, visit(60, new={"width_ratio": 0.8})))["new-bone-narrow"].finding
    alert = said(stand(tibia, 60, visit(60, new={"width_ratio": 0.65})))["new-bone-narrow"].finding
    assert (watch.severity, alert.severity) == (Severity.NOTE, Severity.CAUTION)
    looks = {"texture": NewBoneTexture.LUCENT, "shape": NewBoneShape.CONCAVE}
    found = said(stand(tibia, 42, visit(42, new=looks)))
    assert "lucent and concave" in found["new-bone-warning-sign"].finding.words
    one_sided = said(stand(tibia, 42, visit(42, new={"shape": NewBoneShape.LATERAL})))
    assert "one-sided" in one_sided["new-bone-warning-sign"].finding.words
    well = {"texture": NewBoneTexture.HOMOGENEOUS, "shape": NewBoneShape.FUSIFORM}
    assert said(stand(tibia, 42, visit(42, new=well))) == {}


def test_a_consolidated_bone_is_no_longer_judged(tibia, stand, visit):
    done = replace(tibia, consolidated_on=date(2026, 8, 1))
    assert "new-bone-narrow" not in said(stand(done, 200, visit(200, new={"width_ratio": 0.6})))


# fibula, hardware, overlap


@pytest.mark.parametrize(
    "case",
    [
        (4.9, 2.9, {}),
        (5.0, 0.0, {"fibular-head-migrates": Severity.CAUTION}),
        (10.0, 0.0, {"fibular-head-migrates": Severity.STOP}),
        (0.0, 3.0, {"malleolus-migrates": Severity.CAUTION}),
        (0.0, 5.0, {"malleolus-migrates": Severity.STOP}),
    ],
)
def test_the_fibula(tibia, stand, visit, case):
    head, malleolus, expected = case
    moved = FibulaMigration(head_distal_mm=head, malleolus_proximal_mm=malleolus)
    found = said(stand(tibia, 28, visit(28, fibula=moved)))
    assert {name: one.finding.severity for name, one in found.items()} == expected


def test_broken_and_loosening_hardware(tibia, stand, visit):
    def seen(kind, bone=Bone.TIBIA):
        sign = HardwareSign(kind=kind, bone=bone, which="distal locking screw")
        return said(stand(tibia, 28, visit(28, hardware_read=True, hardware=(sign,))))

    broken = seen(HardwareSignKind.SCREW_BROKEN)["hardware-broken"]
    assert (broken.finding.severity, broken.pace) == (Severity.STOP, Pace.HOLD)
    assert "Screw broken in the tibia (distal locking screw)" in broken.finding.words
    assert list(seen(HardwareSignKind.SCREW_BACKING_OUT, Bone.FIBULA)) == ["hardware-loosening"]
    assert seen(HardwareSignKind.SCREW_BROKEN, Bone.FEMUR) == {}


def test_overlap_at_the_target(tibia, stand, visit):
    """Thick part 250 mm, 35 mm to gain: cut at 165 mm leaves 50 mm, cut at 170 mm leaves 45 mm."""
    seen = visit(28, mm=16.5)
    assert said(stand(tibia, 28, seen, osteotomy_depth_mm=165.0)) == {}
    found = said(stand(tibia, 28, seen, osteotomy_depth_mm=170.0))["overlap-short-at-target"]
    assert found.finding.severity is Severity.CAUTION
    assert "45 mm at 35 mm" in found.finding.words
    none = said(stand(tibia, 28, seen, osteotomy_depth_mm=216.0))["overlap-short-at-target"]
    assert none.finding.severity is Severity.STOP


# pain, wounds


@pytest.mark.parametrize(("pain", "fires"), [(6.9, False), (7.0, True)])
def test_pain(tibia, stand, visit, pain, fires):
    found = said(stand(tibia, 28, visit(28, clinical=examined(pain_0_to_10=pain))))
    assert ("pain-high" in found) is fires


@pytest.mark.parametrize(
    ("wound", "expected"),
    [
        (None, None),
        (Wound.DRY, None),
        (Wound.RED, "wound-red"),
        (Wound.DRAINING, "wound-draining"),
        (Wound.OPEN, "wound-draining"),
    ],
)
def test_wounds(tibia, stand, visit, wound, expected):
    found = said(stand(tibia, 28, visit(28, clinical=examined(wound=wound))))
    assert list(found) == ([expected] if expected else [])
    if expected == "wound-draining":
        assert found[expected].pace is Pace.HOLD


# weight


def test_weight_above_the_limit(tibia, stand, visit):
    heavy = visit(28, clinical=examined(weight_borne_kg=40.0))
    found = said(stand(tibia, 28, heavy))
    assert (
        "40 kg (88 lb) are put on the leg; the limit is 22.7 kg (50 lb)"
        in found["weight-above-limit"].finding.words
    )
    assert said(stand(tibia, 28, visit(28, clinical=examined(weight_borne_kg=22.0)))) == {}


def test_without_a_nail_no_limit_is_guessed(tibia, stand, visit):
    assert list(said(stand(tibia, 28, visit(28), nail=None))) == ["nail-not-known"]
    out = replace(tibia, nail_removed_on=date(2027, 3, 2))
    assert said(stand(out, 400, nail=None)) == {}


@pytest.mark.parametrize(
    "case",
    [
        ((0.95, 0.93, 0.85, 0.80), 0.0, "weight-more-can-be-considered"),
        ((0.95, 0.93, 0.91, 0.80), 0.0, "weight-full-can-be-considered"),
        ((0.95, 0.93, 0.91, 0.80), 8.0, "weight-more-can-be-considered"),
        ((0.95, 0.85, 0.85, 0.80), 0.0, None),
    ],
)
def test_steps_of_weight(tibia, stand, visit, case):
    ratios, pain, expected = case
    found = said(stand(tibia, 150, visit(150, ratios=ratios, clinical=examined(pain_0_to_10=pain))))
    assert [name for name in found if name.startswith("weight")] == ([expected] if expected else [])


def test_full_weight_once_allowed_is_not_offered_again(tibia, stand, visit):
    carrying = replace(tibia, full_weight_on=date(2026, 7, 1))
    borne = examined(weight_borne_kg=70.0)
    assert said(stand(carrying, 150, visit(150, ratios=(0.95,) * 4, clinical=borne))) == {}


def test_a_changed_rule_is_quoted_as_the_surgeon_s(tibia, stand, visit, profile):
    own = replace(profile, full_weight_cortices=4)
    seen = visit(150, ratios=(0.95,) * 4)
    source = said(stand(tibia, 150, seen, rules=own))["weight-full-can-be-considered"].finding.source
    assert source.text == "practice profile: full_weight_cortices 4"


# removal


def test_removal_of_the_nail(tibia, stand):
    assert said(stand(tibia, 300)) == {}
    done = replace(tibia, consolidated_on=date(2026, 9, 1))
    later = said(stand(done, 200))["nail-removal-later"].finding
    assert "from 2027-03-02, 12 months after the operation" in later.words
    assert said(stand(done, 365))["nail-removal-due"].finding.severity is Severity.CAUTION
    assert said(stand(done, 100)) == {}
    assert said(stand(replace(done, nail_removed_on=date(2027, 3, 1)), 400)) == {}


# pace


def test_the_gravest_reason_decides_and_early_bridging_is_still_said(tibia, stand, visit):
    clinical = examined(ankle_dorsiflexion_deg=-5.0)
    s = stand(tibia, 28, visit(28, mm=16.5, bridged=(True, True), clinical=clinical))
    found = advice(s)
    slow = next(f for f in found.findings if f.id == "advice-slow")
    assert found.pace is Pace.SLOW
    assert "Reasons: ankle-tight." in slow.words
    assert "Early bridging speaks for the opposite" in slow.words
    assert "0.75 mm a day" in slow.words
    assert found.film_sooner
    sooner = next(f for f in found.findings if f.id == "advice-film-sooner")
    assert "day 35 (2026-04-06)" in sooner.words


def test_early_bridging_alone_quickens(tibia, stand, visit):
    found = advice(stand(tibia, 28, visit(28, mm=16.5, bridged=(True, True))))
    assert found.pace is Pace.QUICKEN
    assert "up to 1.25 mm a day" in next(f for f in found.findings if f.id == "advice-quicken").next_step


def test_hold(tibia, stand, visit):
    found = advice(stand(tibia, 28, visit(28, clinical=examined(ankle_dorsiflexion_deg=-15.0))))
    assert found.pace is Pace.HOLD
    assert next(f for f in found.findings if f.id == "advice-hold").severity is Severity.STOP


@pytest.mark.parametrize(("before", "fires"), [(0, False), (1, True), (3, True)])
def test_a_lesser_goal_after_two_troubled_visits(tibia, stand, visit, before, fires):
    s = stand(tibia, 28, visit(28, mm=16.5, clinical=examined(ankle_dorsiflexion_deg=-5.0)))
    found = advice(s, troubled_visits=before)
    assert found.lesser_goal is fires
    assert ("advice-lesser-goal" in [f.id for f in found.findings]) is fires
    calm = advice(stand(tibia, 28, visit(28, mm=16.5)), troubled_visits=before)
    assert not calm.lesser_goal


def test_after_lengthening_there_is_no_pace_to_keep(tibia, stand, visit):
    found = advice(stand(tibia, 100, visit(100, mm=35.0)))
    assert found.findings == ()
    assert not found.film_sooner


# films


def test_a_film_overdue(tibia, stand, visit):
    """Films are due on days 14 and 28."""
    assert said(stand(tibia, 17)) == {}
    found = said(stand(tibia, 18))
    assert list(found) == ["film-overdue"]
    assert "was due on day 14 (2026-03-16), 4 days ago" in found["film-overdue"].finding.words
    assert "film-overdue" not in said(stand(tibia, 31, visit(13)))
    assert "film-overdue" in said(stand(tibia, 32, visit(13)))
    assert "film-overdue" not in said(stand(tibia, 40, visit(25)))
    assert "film-overdue" not in said(stand(tibia, 80))


def test_a_change_settles_what_was_missed_before_it(tibia, stand, visit):
    """3.8 mm less than reported on day 28; the prescription then goes on from the 13 mm that are there."""
    settled = change.amended(tibia, change.continued(tibia, from_day=29, gained_mm=13.0))
    first = visit(28, mm=13.0)
    assert list(said(stand(settled, 28, first))) == ["length-differs-from-diary"]
    # by day 42 another 10.5 mm were reported
    assert said(stand(settled, 42, first, visit(42, mm=23.4))) == {}
    again = said(stand(settled, 42, first, visit(42, mm=20.0)))
    assert "and the diary 23.5 mm" in again["length-differs-from-diary"].finding.words
    diary = tuple(DiaryEntry(on=date(2026, 3, 2) + timedelta(days=n), steps=0) for n in range(32, 37))
    missed = said(stand(replace(settled, diary=diary), 42, first, visit(42, mm=19.6)))
    assert missed["doses-differ"].finding.words == (
        "Reported are 19.75 mm, prescribed are 23.5 mm: 3.75 mm missed."
    )
