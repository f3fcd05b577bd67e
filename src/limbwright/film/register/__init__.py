"""A follow-up film laid onto the previous one: what each fragment did in between."""

from limbwright.film.register.follow_up import FragmentMotion, fragment_motion
from limbwright.film.register.rigid import Laid, Patch, lay_patch

__all__ = ["FragmentMotion", "Laid", "Patch", "fragment_motion", "lay_patch"]
