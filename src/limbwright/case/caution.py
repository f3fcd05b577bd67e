"""The caution that every screen, report and export carries."""

CAUTION = (
    "Decision support for a licensed surgeon; not a medical device. "
    "Check every figure against the implant's own instructions and local rules."
)
