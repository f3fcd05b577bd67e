"""The whole practice audit on 50,000 generated cases: from a store, and beside the same questions in pandas.

    python benchmarks/bench_audit.py

The cases are generated and seeded; no patient is behind them. Prints times and ratios measured in one run,
best of several turns taken in alternation; imports of the statistics libraries are timed apart, once. The
target is two seconds from asking the store to the results.
"""

import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
from lifelines import KaplanMeierFitter
from scipy import stats
from sqlalchemy import insert
from statsmodels.api import Logit, add_constant
from statsmodels.stats.proportion import proportion_confint

from limbwright.practice.audit.audit import PracticeAudit, practice_audit
from limbwright.practice.audit.columns import LEVELS, AuditColumns, names
from limbwright.practice.audit.logistic import LogisticFit
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.profile import Profile
from limbwright.store.engine import writing
from limbwright.store.listing import LISTING_VERSION
from limbwright.store.schema import CASE_RECORD, TREATED_BONE
from limbwright.store.store import Store, open_store
from limbwright.store.treated import mark_of

BONES = 50_000
TURNS = 5
TARGET_SECONDS = 2.0
IMPORTS = "import lifelines, scipy.stats, statsmodels.discrete.discrete_model, statsmodels.stats.proportion"


def generated(n: int, *, seed: int) -> AuditColumns:
    """Columns of invented bones: healing by length and bone, drift less with screws, release by length."""
    rng = np.random.Generator(np.random.PCG64(seed))
    tibia = rng.random(n) < 0.5
    retrograde = ~tibia & (rng.random(n) < 0.4)
    age = rng.gamma(5.0, 5.0, n) + 8
    planned = rng.uniform(20, 75, n).round()
    gained = planned + rng.normal(-0.5, 2.0, n)
    index = np.where(tibia, rng.normal(41, 10, n), rng.normal(28, 7, n)).clip(12, None)
    heals_on = (index * gained / 10).round()
    seen_until = rng.uniform(90, 900, n).round()
    screws = rng.choice([0.0, 1.0, 2.0, np.nan], n, p=[0.4, 0.3, 0.2, 0.1])
    spread = np.where(screws > 0, 1.2, 2.2)
    released = rng.random(n) < 1 / (1 + np.exp(-(gained - 42) / 6))
    unread = rng.random(n) < 0.1
    return AuditColumns(
        case_id=np.array([f"invented-{i:06d}" for i in range(n)]),
        bone=np.where(tibia, "tibia", "femur"),
        entry=np.where(retrograde, "retrograde", "antegrade"),
        level=rng.choice(np.array(LEVELS), n),
        operated_on=np.datetime64("2012-01-01") + rng.integers(0, 5000, n).astype("timedelta64[D]"),
        healed=heals_on <= seen_until,
        age_years=age,
        followed_days=np.minimum(heals_on, seen_until),
        planned_mm=planned,
        gained_mm=gained,
        frontal_error_deg=np.where(unread, np.nan, rng.normal(-0.4, 1.6, n)),
        sagittal_error_deg=np.where(unread, np.nan, rng.normal(0.8, 2.0, n)),
        mad_error_mm=np.where(unread, np.nan, rng.normal(-1.0, 5.0, n)),
        frontal_drift_deg=np.where(unread, np.nan, rng.normal(np.where(tibia, -1.5, 0.8), spread)),
        sagittal_drift_deg=np.where(unread, np.nan, rng.normal(1.0, spread)),
        blocking_screws=screws,
        calf_release=np.where(tibia, released.astype(float), np.nan),
        problems=rng.poisson(0.6, n).astype(float),
        obstacles=rng.poisson(0.2, n).astype(float),
        minor_complications=rng.poisson(0.08, n).astype(float),
        major_complications=rng.poisson(0.05, n).astype(float),
    )


def frame_of(columns: AuditColumns) -> pd.DataFrame:
    """The columns as a data frame."""
    return pd.DataFrame({name: getattr(columns, name) for name in names()})


def by_plain_loop(frame: pd.DataFrame) -> dict[str, object]:
    """The main questions asked the way a notebook asks them: group by group, library call by library call."""
    found: dict[str, object] = {}
    age = pd.cut(frame.age_years, [0, 16, 30, 200], right=False)
    index = frame.followed_days / (frame.gained_mm / 10)
    with_index = frame.healed & (frame.gained_mm >= 10)
    for keys in (["bone"], ["bone", "entry"], ["bone", age], ["bone", "level"], ["bone", age, "level"]):
        for key, group in frame[with_index].groupby(keys, observed=True):
            values = index[group.index]
            found[f"index {key}"] = (
                values.quantile([0.25, 0.5, 0.75]).to_list(),
                stats.quantile_test(values, p=0.5).confidence_interval(0.95),
                list(group.case_id),
            )
    for bone, group in frame.groupby("bone"):
        found[f"curve {bone}"] = KaplanMeierFitter().fit(group.followed_days, group.healed)
        for plane in ("frontal", "sagittal"):
            drift = group[f"{plane}_drift_deg"]
            found[f"drift {bone} {plane}"] = stats.ttest_ind(
                drift[group.blocking_screws > 0].dropna(),
                drift[group.blocking_screws == 0].dropna(),
                equal_var=False,
            ).confidence_interval()
        for name in ("problems", "obstacles", "minor_complications", "major_complications"):
            counts = group[name].dropna()
            found[f"rate {bone} {name}"] = proportion_confint((counts > 0).sum(), len(counts), method="beta")
    tibiae = frame[frame.bone == "tibia"].dropna(subset=["calf_release", "gained_mm"])
    found["calf"] = Logit(tibiae.calf_release, add_constant(tibiae.gained_mm)).fit(disp=0)
    complication = (frame.minor_complications + frame.major_complications) > 0
    for year, rows in complication.groupby(frame.operated_on.dt.year):
        found[f"period {year}"] = (
            int(rows.sum()),
            stats.binom.interval(0.95, len(rows), complication.mean()),
            list(frame.case_id[rows.index]),
        )
    return found


def filled_store(home: Path, columns: AuditColumns, profile: Profile) -> Store:
    """A store with a row for each generated case, as saving the cases would have left it; no documents."""
    store = open_store(home)
    record = {
        "version": 1,
        "listing_version": LISTING_VERSION,
        "side": "left",
        "invented": False,
        "patient": "INVENTED",
        "diagnosis": "generated",
        "step": "operated",
        "next_due": "nothing",
        "stops": 0,
        "cautions": 0,
        "updated_at": datetime(2026, 1, 1, tzinfo=UTC),
        "updated_by": "benchmark",
        "audit_mark": mark_of(profile),
    }
    fields = names()
    rows = zip(*(getattr(columns, name).tolist() for name in fields), strict=True)
    bones = [{"position": 0, **{f: plain(v) for f, v in zip(fields, row, strict=True)}} for row in rows]
    with writing(store.engine) as connection:
        connection.execute(insert(CASE_RECORD), [{"id": bone["case_id"], **record} for bone in bones])
        connection.execute(insert(TREATED_BONE), bones)
    return store


def plain(value: object) -> object:
    """A cell as the database has it; what is not recorded is empty."""
    return None if isinstance(value, float) and math.isnan(value) else value


def from_store(store: Store, profile: Profile) -> PracticeAudit:
    """What the results page asks: rows of all cases, and the audit of them."""
    return practice_audit(store.cases.treated_bones(profile, invented=False).columns, profile)


def best_seconds(ways: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Best time of each way; ways take turns, so that a busy machine disturbs all alike."""
    best = dict.fromkeys(ways, float("inf"))
    for _ in range(TURNS):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def imports_seconds() -> float:
    """Time a new interpreter takes to load the statistics libraries, once in its life."""
    code = f"import time; t = time.perf_counter(); {IMPORTS}; print(time.perf_counter() - t)"
    return float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout)


def agreement(results: PracticeAudit, plain: dict[str, object]) -> float:
    """Largest difference between the audit's calf fit and the notebook's, so that speed buys no error."""
    fit = results.calf_release.fit
    if not isinstance(fit, LogisticFit):
        raise TypeError(f"no fit: {fit}")
    params = plain["calf"].params  # type: ignore[attr-defined]  # a statsmodels result
    return float(np.max(np.abs(np.array([fit.intercept, fit.slope]) - params.to_numpy())))


def main() -> None:
    """Measure and print."""
    columns, profile = generated(BONES, seed=1), Profile()
    frame = frame_of(columns)
    results = practice_audit(columns, profile)
    plain = by_plain_loop(frame)
    with tempfile.TemporaryDirectory() as folder, filled_store(Path(folder), columns, profile) as store:
        seconds = best_seconds(
            {
                "asked of the store": lambda: from_store(store, profile),
                "whole audit": lambda: practice_audit(columns, profile),
                "offers to the profile": lambda: offered_settings(results, profile),
                "main questions in a pandas loop": lambda: by_plain_loop(frame),
            }
        )
    print(f"{len(columns)} generated bones, {len(results.healing_index)} groups of the healing index")
    unit = seconds["main questions in a pandas loop"]
    for name, took in seconds.items():
        print(f"  {name:34s} {took:8.3f} s   {took / unit:6.3f} x pandas loop")
    print(f"  {'libraries loaded, once':34s} {imports_seconds():8.3f} s")
    print(f"  calf fit agrees with statsmodels within {agreement(results, plain):.1e}")
    took = seconds["asked of the store"]
    verdict = "met" if took <= TARGET_SECONDS else "missed"
    print(f"  target {TARGET_SECONDS:g} s or less: {verdict} with {took:.2f} s")


if __name__ == "__main__":
    main()
