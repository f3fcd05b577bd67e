"""Where a rule of practice comes from: our default's source, or the surgeon who changed it."""

from limbwright.practice.profile import Profile
from limbwright.practice.setting import setting
from limbwright.published import COMMON_PRACTICE, Source, Status


def rule_source(profile: Profile, *names: str) -> Source:
    """Source to quote for a finding that rests on these settings.

    Parameters
    ----------
    profile : Profile
        The surgeon's own numbers.
    *names : str
        Names of the settings the finding rests on.

    Returns
    -------
    Source
        The settings' own sources while they hold our defaults; otherwise the practice profile, with what
        was changed. A wrong name is a mistake of ours and raises AttributeError.
    """
    changed = [name for name in names if getattr(profile, name) != setting(name).default]
    if changed:
        text = ", ".join(f"{name} {getattr(profile, name)}" for name in changed)
        return Source(text=f"practice profile: {text}", status=Status.COMMON_PRACTICE)
    sources = tuple(dict.fromkeys(setting(name).source for name in names))
    sourced = [source for source in sources if source != COMMON_PRACTICE]
    if not sourced:
        return COMMON_PRACTICE
    if len(sourced) == 1:
        return sourced[0]
    return Source(text="; ".join(source.text for source in sourced), status=sourced[0].status)
