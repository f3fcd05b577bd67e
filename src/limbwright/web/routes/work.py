"""The light table's working calls."""

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from limbwright.web.bench import Bench
from limbwright.web.casework import case_of, headers_of
from limbwright.web.identity import Planner, Reader
from limbwright.web.wire import Days, Drag, Draw, Measure, OfState, PlanCase, Session
from limbwright.web.work.answer import measure_answer, plan_answer
from limbwright.web.work.candidates import candidates_answer
from limbwright.web.work.days import days_answer, draw_answer
from limbwright.web.work.drag import drag_answer
from limbwright.web.work.drift import drift_answer
from limbwright.web.work.state import measured_state, planned_state

router = APIRouter(prefix="/api/work", tags=["light table"])


@router.post("/measure")
def measure(bench: Bench, who: Reader, body: Measure) -> Response:
    """Readings, deformities, scales and findings of a case, as far as it is marked."""
    case = case_of(body.case)
    state = measured_state(case, bench.practice.both(), headers_of(bench, case))
    bench.work.put(who.name, body.session, state)
    return JSONResponse(measure_answer(state, body.session))


@router.post("/plan")
def plan(bench: Bench, who: Reader, body: PlanCase) -> Response:
    """Everything of measure, and the plan with its drawings and what comes of it."""
    case = case_of(body.case)
    state = planned_state(case, tuple(body.alterations), bench.practice.both(), headers_of(bench, case))
    bench.work.put(who.name, body.session, state)
    return JSONResponse(plan_answer(state, body.session))


@router.post("/drag")
def drag(bench: Bench, who: Planner, body: Drag) -> Response:
    """A preview of one change; what cannot be is held at its limit, with the reason."""
    state = bench.work.get(who.name, body.session, body.base)
    return JSONResponse(drag_answer(state, body.change, body.stage, body.projection))


@router.post("/days")
def days(bench: Bench, who: Reader, body: Days) -> Response:
    """Where every fragment is at some moments, or on every day."""
    state = bench.work.get(who.name, body.session, body.base)
    return JSONResponse(days_answer(state, body.moments))


@router.post("/drift")
def drift(bench: Bench, who: Reader, body: OfState) -> Response:
    """Expected drift by day with its band; worked out once for each plan."""
    state = bench.work.get(who.name, body.session, body.base)
    return JSONResponse(drift_answer(state))


@router.post("/draw")
def draw(bench: Bench, who: Reader, body: Draw) -> Response:
    """Drawings at some moments."""
    state = bench.work.get(who.name, body.session, body.base)
    return JSONResponse(draw_answer(state, body.moments))


@router.post("/candidates")
def candidates(bench: Bench, who: Reader, body: OfState) -> Response:
    """The proposed plan beside others, each with what it buys and costs."""
    state = bench.work.get(who.name, body.session, body.base)
    return JSONResponse(candidates_answer(state))


@router.delete("/{session}", status_code=204)
def close(bench: Bench, who: Reader, session: Session) -> Response:
    """Forget a light table."""
    bench.work.drop(who.name, session)
    return Response(status_code=204)
