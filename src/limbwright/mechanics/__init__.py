"""Room `mechanics`: the elastic nail in the canals of two fragments, its drift, and what blocking screws do.

Pure and without case types. Signs: varus +, procurvatum +, lateral +, anterior +; `plane` is the one place
that turns them. numba is imported at the first solve, not before. Derivation and limits: docs/mechanics.md.
The model has not been validated clinically.
"""

from limbwright.mechanics.batch import BatchResult, peak_stress_mpa, solve_batch
from limbwright.mechanics.canal import Canal, Walls, flared_canal, straight_canal
from limbwright.mechanics.candidates import Candidate, KeepOut, candidate_screws, judged_screw
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.coupled import (
    CoupledProblem,
    CoupledResult,
    SpatialContact,
    coupled_problem,
    solve_coupled,
)
from limbwright.mechanics.coupled_batch import CoupledBatch, solve_coupled_batch
from limbwright.mechanics.coupled_course import CoupledCourse, coupled_course
from limbwright.mechanics.drawn_course import drawn_course, expanded_spreads
from limbwright.mechanics.envelope import Envelope, envelope
from limbwright.mechanics.flexibility import flexibility
from limbwright.mechanics.layout_batch import PlaneLayouts, Scenario, enumerate_layouts, solve_layouts
from limbwright.mechanics.layout_coupled import (
    SHARED_FACTORS,
    LayoutCourses,
    coupled_layouts,
    drawn_layouts,
    layouts_of_draws,
)
from limbwright.mechanics.layout_ranking import Layout
from limbwright.mechanics.layouts import LayoutReport, Missed, compare_layouts
from limbwright.mechanics.load import Load, Regenerate, SpatialLoad
from limbwright.mechanics.nail import NailBeam, second_moment_mm4
from limbwright.mechanics.parameters import Parameter, parameter, parameters
from limbwright.mechanics.plane import Fragment, Plane, ScrewDirection, Side, concave_side
from limbwright.mechanics.plane_problem import PlaneProblem, plane_problem
from limbwright.mechanics.rest import rest_after
from limbwright.mechanics.sampling import Quantiles, Shape, Spread, draws, quantiles, unit_draws
from limbwright.mechanics.screw import BlockingScrew, LockingScrew, screw_stiffness_n_per_mm
from limbwright.mechanics.sensitivity import SobolIndices, sobol_indices
from limbwright.mechanics.solve import OUTCOMES, Contact, Outcome, PlaneResult, Support, solve, solve_problem
from limbwright.mechanics.stages import (
    CourseBatch,
    CourseForecast,
    Stage,
    StageForecast,
    forecast_batch,
    forecast_course,
)
from limbwright.mechanics.tissue import (
    Level,
    Region,
    TissuePull,
    lever_arm_mm,
    regenerate_stiffness_nm_per_deg,
    tissue_pull,
)

__all__ = [
    "OUTCOMES",
    "SHARED_FACTORS",
    "BatchResult",
    "BlockingScrew",
    "Canal",
    "Candidate",
    "Construct",
    "Contact",
    "CoupledBatch",
    "CoupledCourse",
    "CoupledProblem",
    "CoupledResult",
    "CourseBatch",
    "CourseForecast",
    "Envelope",
    "Fragment",
    "KeepOut",
    "Layout",
    "LayoutCourses",
    "LayoutReport",
    "Level",
    "Load",
    "LockingScrew",
    "Missed",
    "NailBeam",
    "Outcome",
    "Parameter",
    "Plane",
    "PlaneLayouts",
    "PlaneProblem",
    "PlaneResult",
    "Quantiles",
    "Regenerate",
    "Region",
    "Scenario",
    "ScrewDirection",
    "Shape",
    "Side",
    "SobolIndices",
    "SpatialContact",
    "SpatialLoad",
    "Spread",
    "Stage",
    "StageForecast",
    "Support",
    "TissuePull",
    "Walls",
    "candidate_screws",
    "compare_layouts",
    "concave_side",
    "coupled_course",
    "coupled_layouts",
    "coupled_problem",
    "drawn_course",
    "drawn_layouts",
    "draws",
    "enumerate_layouts",
    "envelope",
    "expanded_spreads",
    "flared_canal",
    "flexibility",
    "forecast_batch",
    "forecast_course",
    "judged_screw",
    "layouts_of_draws",
    "lever_arm_mm",
    "parameter",
    "parameters",
    "peak_stress_mpa",
    "plane_problem",
    "quantiles",
    "regenerate_stiffness_nm_per_deg",
    "rest_after",
    "screw_stiffness_n_per_mm",
    "second_moment_mm4",
    "sobol_indices",
    "solve",
    "solve_batch",
    "solve_coupled",
    "solve_coupled_batch",
    "solve_layouts",
    "solve_problem",
    "straight_canal",
    "tissue_pull",
    "unit_draws",
]
