"""Settings that must agree with each other."""

from collections.abc import Mapping

from limbwright.error import Contradiction
from limbwright.practice.setting import Answer, settings, toml_text


def require_consistent(answers: Mapping[str, Answer]) -> None:
    """Refuse answers that are each in range but cannot all be meant.

    Raises
    ------
    Contradiction
        If a setting exceeds the one it may not exceed, or a rhythm is faster than the fastest rate.
    """
    for one in settings():
        if one.not_above and float(answers[one.name]) > float(answers[one.not_above]):
            raise Contradiction(
                f"{one.name} is {toml_text(answers[one.name])} but {one.not_above} is "
                f"{toml_text(answers[one.not_above])} {one.unit}, expected the first not to be above "
                "the second.",
                where="practice profile",
                next_step="Change one of the two.",
            )
    step_mm = float(answers["distraction_step_mm"])
    fastest_mm_per_day = float(answers["max_rate_mm_per_day"])
    for phase in ("fast_start", "steady"):
        for bone in ("femur", "tibia"):
            steps = answers[f"{phase}_steps_per_day_{bone}"]
            if float(steps) * step_mm > fastest_mm_per_day + 1e-9:
                raise Contradiction(
                    f"{phase}_steps_per_day_{bone} is {toml_text(steps)}; with steps of {step_mm:g} mm that "
                    f"is {float(steps) * step_mm:g} mm/day, expected at most max_rate_mm_per_day "
                    f"({fastest_mm_per_day:g} mm/day).",
                    where="practice profile",
                    next_step="Take fewer or shorter steps, or raise the fastest rate.",
                )
