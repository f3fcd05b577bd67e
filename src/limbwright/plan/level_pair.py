"""Whether one osteotomy of a bone is enough, and which apex each of two corrects.

Apexes within the practice's tolerance are left alone. Two that lie too near to each other for a middle
fragment are corrected by one cut between them. A third one beyond tolerance joins the nearer of two groups.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from limbwright.plan.goal import BoneChoice
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelsWanted(Value):
    """How often a bone is to be cut, and why."""

    asked: bool
    """Whether the surgeon asked for two."""
    reason: str
    """Why twice, or why once is enough, in words."""
    apexes: tuple[Angulation, ...] = ()
    """What is corrected at each of two levels, from proximal to distal; one where the other level only
    lengthens; empty when one osteotomy is enough."""
    left: tuple[Angulation, ...] = ()
    """Apexes beyond tolerance that stay off the cuts proposed."""

    @property
    def twice(self) -> bool:
        """Whether the bone is to be cut twice."""
        return self.asked or len(self.apexes) > 1


def size_deg(apex: Angulation, *, has_sagittal: bool) -> float:
    """Size of an angulation in its own plane. [deg]"""
    return float((apex.frontal_deg**2 + (apex.sagittal_deg**2 if has_sagittal else 0.0)) ** 0.5)


def beyond_tolerance(
    situation: BoneSituation, profile: Profile, *, has_sagittal: bool
) -> tuple[Angulation, ...]:
    """Apexes that are to be corrected, from proximal to distal; those of unknown level last."""
    return tuple(
        sorted(
            (
                a
                for a in situation.angulations
                if abs(a.frontal_deg) > profile.angle_tolerance_deg
                or (has_sagittal and abs(a.sagittal_deg) > profile.sagittal_tolerance_deg)
            ),
            key=lambda a: (a.below_joint_mm is None, a.below_joint_mm or 0.0),
        )
    )


def levels_wanted(
    situation: BoneSituation,
    choice: BoneChoice | None,
    profile: Profile,
    *,
    has_sagittal: bool,
    correct_alignment: bool,
) -> LevelsWanted:
    """How often to cut a bone.

    Parameters
    ----------
    situation : BoneSituation
        Apexes with their levels.
    choice : BoneChoice or None
        What the surgeon has fixed.
    has_sagittal : bool
        Whether sagittal angles count.
    correct_alignment : bool
        False when only length is wanted.
    """
    asked = choice is not None and (
        choice.osteotomies == 2 or choice.second_osteotomy_below_joint_mm is not None
    )
    bent = beyond_tolerance(situation, profile, has_sagittal=has_sagittal) if correct_alignment else ()
    known = tuple(a for a in bent if a.below_joint_mm is not None)
    groups = _two_groups(known, profile, has_sagittal=has_sagittal)
    if choice is not None and choice.osteotomies == 1:
        return LevelsWanted(
            asked=False,
            reason="One osteotomy, as the surgeon has decided.",
            left=bent if len(bent) > 1 else (),
        )
    if asked:
        return LevelsWanted(
            asked=True,
            reason="Two osteotomies, as the surgeon has decided.",
            apexes=groups if groups is not None else known[:1],
            left=() if groups is None else _apart(known, groups, profile),
        )
    return _unasked(bent, known, groups, profile, has_sagittal=has_sagittal)


def _unasked(
    bent: Sequence[Angulation],
    known: Sequence[Angulation],
    groups: tuple[Angulation, Angulation] | None,
    profile: Profile,
    *,
    has_sagittal: bool,
) -> LevelsWanted:
    """One or two, by what the bone shows."""
    if len(bent) < 2:
        return LevelsWanted(
            asked=False, reason="One osteotomy is enough: no more than one apex is beyond tolerance."
        )
    if groups is None:
        return LevelsWanted(
            asked=False,
            reason="One osteotomy is proposed: the level of a second apex is not known.",
            left=tuple(bent),
        )
    smaller = min(size_deg(g, has_sagittal=has_sagittal) for g in groups)
    if smaller < profile.second_osteotomy_from_deg:
        return LevelsWanted(
            asked=False,
            reason=f"One osteotomy is proposed: the lesser apex has {smaller:.1f} deg, and a second "
            "osteotomy is "
            f"proposed from {profile.second_osteotomy_from_deg:g} deg.",
            left=tuple(bent),
        )
    apart_mm = _level(groups[1]) - _level(groups[0])
    if apart_mm < profile.middle_fragment_min_mm:
        return LevelsWanted(
            asked=False,
            reason=f"One osteotomy is proposed: the apexes lie {apart_mm:.0f} mm apart, and a middle "
            "fragment "
            f"shorter than {profile.middle_fragment_min_mm:g} mm is not made.",
            left=tuple(bent),
        )
    sizes = " and ".join(
        f"{size_deg(g, has_sagittal=has_sagittal):.1f} deg at {_level(g):.0f} mm" for g in groups
    )
    return LevelsWanted(
        asked=False,
        reason=f"Two osteotomies: one cut would leave an apex beyond tolerance ({sizes} below the joint).",
        apexes=groups,
        left=_apart(known, groups, profile),
    )


def _level(apex: Angulation) -> float:
    return 0.0 if apex.below_joint_mm is None else apex.below_joint_mm


def _two_groups(
    known: Sequence[Angulation], profile: Profile, *, has_sagittal: bool
) -> tuple[Angulation, Angulation] | None:
    """Apexes in two groups of neighbours, each as one angulation, with the least angle off its level.

    Groups whose bends take each other out come last: no cut would be made for them.
    """
    if len(known) < 2:
        return None

    def cost(i: int) -> tuple[bool, float]:
        pair = split[i]
        idle = min(size_deg(g, has_sagittal=has_sagittal) for g in pair) < profile.second_osteotomy_from_deg
        off = sum(
            size_deg(a, has_sagittal=has_sagittal) * abs(_level(a) - _level(pair[n >= i]))
            for n, a in enumerate(known)
        )
        return idle, off

    split = {
        i: (_as_one(known[:i], has_sagittal), _as_one(known[i:], has_sagittal)) for i in range(1, len(known))
    }
    return split[min(split, key=cost)]


def _as_one(apexes: Sequence[Angulation], has_sagittal: bool) -> Angulation:
    """Neighbouring apexes as one angulation at the middle of their angles."""
    weights = [size_deg(a, has_sagittal=has_sagittal) for a in apexes]
    return Angulation(
        below_joint_mm=sum(w * _level(a) for w, a in zip(weights, apexes, strict=True)) / sum(weights),
        frontal_deg=sum(a.frontal_deg for a in apexes),
        sagittal_deg=sum(a.sagittal_deg for a in apexes),
    )


def _apart(
    known: Sequence[Angulation], groups: tuple[Angulation, Angulation], profile: Profile
) -> tuple[Angulation, ...]:
    """Apexes that are farther from both levels than the practice counts as one level."""
    return tuple(
        a for a in known if min(abs(_level(a) - _level(g)) for g in groups) > profile.apex_levels_agree_mm
    )
