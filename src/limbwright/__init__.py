"""Limbwright: plan, follow and audit limb lengthening over a motorised lengthening nail.

Decision support for a licensed surgeon; not a medical device. Check every figure against the
implant's own instructions and local rules.
"""

__version__ = "0.1.0"
