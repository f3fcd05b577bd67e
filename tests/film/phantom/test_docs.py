import re
from dataclasses import replace
from pathlib import Path

from limbwright.film import phantom


def test_the_example_of_the_documentation_runs(monkeypatch):
    page = (Path(__file__).parents[3] / "docs" / "phantom.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```python\n(.*?)```", page, flags=re.DOTALL)
    whole = phantom.standing_films
    detector = phantom.Detector(pixel_mm=2.0)

    def coarse(patient, *, seed):
        return whole(
            patient,
            seed=seed,
            detail=phantom.Detail.COARSE,
            frontal=replace(phantom.FRONTAL_SETUP, detector=detector),
            sagittal=replace(phantom.SAGITTAL_SETUP, detector=detector),
        )

    monkeypatch.setattr(phantom, "standing_films", coarse)
    names: dict = {}
    exec(example, names)
    bent = names["films"].frontal.truth.leg(names["Side"].LEFT)
    # A valgus bend at a third of the tibia opens the angle at the knee by less than its own size.
    assert 3.0 < bent.angles_deg["MPTA"] - 87.0 < 12.0
