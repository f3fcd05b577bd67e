"""What every answer of the audit carries: an interval, or how many more cases it takes to give one."""

from dataclasses import dataclass

from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval(Value):
    """A two-sided confidence interval; None = open to that side."""

    low: float | None
    """Lower end."""
    high: float | None
    """Upper end."""

    def holds(self, value: float) -> bool:
        """Whether a value lies inside, ends included."""
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew(Value):
    """Stands where a number would be: there is too little to compute one from."""

    n: int
    """How many there are."""
    needed: int
    """How many the practice profile asks for."""
    of: str
    """What is counted, in plain words."""

    @property
    def words(self) -> str:
        """`7 of 10 needed (tibiae that healed)`."""
        return f"{self.n} of {self.needed} needed ({self.of})"
