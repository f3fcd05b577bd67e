"""However a case file is damaged, it is read or it is refused in words; nothing else happens."""

import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.problem import UnreadableCase
from limbwright.error import LimbwrightError

anything = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text()
    | st.sampled_from(["2026-02-30", "frontal", "35 mm", "femoral_head_centre", "right"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=5,
)
QUICK = settings(max_examples=40, suppress_health_check=list(HealthCheck), deadline=None)


def places(node, path=()):
    """Every place in a document, as a path of keys and indices."""
    members = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, member in members:
        yield (*path, step)
        yield from places(member, (*path, step))


def read_or_refused(text):
    refusal = None
    try:
        case = case_from_json(text, complete=False)
    except LimbwrightError as error:
        refusal = error
    if refusal is None:
        assert isinstance(case, Case)
        assert case_from_json(case_to_json(case), complete=False) == case
        return
    assert str(refusal).replace("\n", "").isprintable()
    for problem in refusal.problems if isinstance(refusal, UnreadableCase) else ():
        assert problem.path.startswith("$")
        assert problem.found
        assert problem.next_step
        assert len(problem.value) <= 60


@QUICK
@given(data=st.data())
def test_a_value_put_anywhere(random_cases, data):
    document = json.loads(case_to_json(data.draw(random_cases)))
    *steps, last = data.draw(st.sampled_from(list(places(document))))
    place = document
    for step in steps:
        place = place[step]
    place[last] = data.draw(anything)
    read_or_refused(json.dumps(document))


@QUICK
@given(data=st.data())
def test_a_key_renamed_or_taken_away(random_cases, data):
    document = json.loads(case_to_json(data.draw(random_cases)))
    *steps, last = data.draw(
        st.sampled_from([path for path in places(document) if isinstance(path[-1], str)])
    )
    place = document
    for step in steps:
        place = place[step]
    value = place.pop(last)
    if data.draw(st.booleans()):
        place[data.draw(st.text(max_size=12) | st.just(f"{last}_cm"))] = value
    read_or_refused(json.dumps(document))


@QUICK
@given(data=st.data())
def test_a_text_cut_off_or_overwritten(random_cases, data):
    text = case_to_json(data.draw(random_cases)).encode()
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, len(text)))
    read_or_refused(text[:start] + data.draw(st.binary(max_size=5)) + text[end:])
