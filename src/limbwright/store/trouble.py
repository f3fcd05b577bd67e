"""What can go wrong with a store that the user can mend, beside the one error family.

```text
LimbwrightError
├── Unavailable      the database cannot be reached, is busy or full; nothing was saved
└── Conflict         (store.conflict) somebody else saved in the meantime; nothing was saved or lost
```
"""

from limbwright.error import LimbwrightError


class Unavailable(LimbwrightError):
    """The database cannot be reached, is busy or full; the change was not saved."""
