import json

import pytest

from limbwright.film.phantom import truth_json


def test_the_truth_file_holds_what_truth_holds(plain_film):
    document = json.loads(truth_json(plain_film))
    assert document["format"] == "limbwright phantom truth 1"
    (right, left) = document["truth"]["legs"]
    assert (right["side"], left["side"]) == ("right", "left")
    truth = plain_film.truth.legs[1]
    for name, place in truth.landmarks_px.items():
        assert left["landmarks_px"][name] == pytest.approx(list(place), abs=1e-6)
    assert left["angles_deg"]["MPTA"] == pytest.approx(truth.angles_deg["MPTA"])
    wall = left["walls"][0]
    assert len(wall["axis_px"]) == len(wall["low_px"]) == len(wall["high_px"])
    assert document["setup"]["source_detector_mm"] == 3000.0
    assert document["truth"]["balls"][0]["diameter_mm"] == 25.0


def test_the_truth_file_says_that_it_is_synthetic(plain_film):
    assert "invented patient" in json.loads(truth_json(plain_film))["note"]
