"""The measure command against legs drawn by trigonometry alone."""

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from limbwright.cli.main import cli

MM_PER_PX = 0.2


@dataclass(frozen=True, kw_only=True)
class LegByHand:
    """Frontal angles and lengths of a leg; the film is made from them."""

    femur_mm: float = 440.0
    tibia_mm: float = 350.0
    mldfa_deg: float = 93.0
    mpta_deg: float = 84.0
    jlca_deg: float = 1.5
    ldta_deg: float = 90.5
    mlpfa_deg: float = 92.0

    def varus_deg(self) -> float:
        """Deviation of the tibial from the femoral mechanical axis, by adding the angles round the knee."""
        return self.mldfa_deg - self.mpta_deg + self.jlca_deg

    def mad_mm(self) -> float:
        """Distance of the knee centre from the hip-ankle line: twice the triangle's area over its base."""
        f, t, d = self.femur_mm, self.tibia_mm, math.radians(self.varus_deg())
        return f * t * math.sin(d) / math.sqrt(f * f + t * t + 2 * f * t * math.cos(d))

    def points_mm(self) -> dict[str, tuple[float, float]]:
        """Landmarks as (lateral, up), knee centre at the origin."""
        # The femoral mechanical axis stands upright; for varus the tibia turns toward the midline.
        turn = math.radians(self.varus_deg())
        down = (-math.sin(turn), -math.cos(turn))
        ankle = (self.tibia_mm * down[0], self.tibia_mm * down[1])
        # mLDFA is on the lateral side between the axis (up) and the condylar line (lateral).
        condyle = math.radians(90.0 - self.mldfa_deg)
        # Medial of the plateau is MPTA from "down the tibia", lateral of the plafond LDTA from "up".
        up_tibia = math.atan2(-down[1], -down[0])
        plateau = up_tibia - math.radians(self.mpta_deg)
        plafond = up_tibia - math.radians(self.ldta_deg)
        hip_line = -math.pi / 2 + math.radians(self.mlpfa_deg)

        def out(centre: tuple[float, float], angle: float, by: float) -> tuple[float, float]:
            return centre[0] + by * math.cos(angle), centre[1] + by * math.sin(angle)

        hip = (0.0, self.femur_mm)
        return {
            "femoral_head_centre": hip,
            "greater_trochanter_tip": out(hip, hip_line, 55.0),
            "femur_knee_centre": (0.0, 0.0),
            "tibia_knee_centre": (0.0, 0.0),
            "lateral_femoral_condyle": out((0.0, -8.0), condyle, 25.0),
            "medial_femoral_condyle": out((0.0, -8.0), condyle, -25.0),
            "lateral_plateau": out((0.0, -12.0), plateau, 24.0),
            "medial_plateau": out((0.0, -12.0), plateau, -24.0),
            "ankle_centre": ankle,
            "lateral_plafond": out(ankle, plafond, 12.0),
            "medial_plafond": out(ankle, plafond, -12.0),
        }


def marks_px(
    leg: LegByHand, *, right: bool, mm_per_px: float, centre_px: tuple[float, float]
) -> dict[str, dict[str, float]]:
    """Landmarks on a frontal film on which the patient's right side is at the viewer's left."""
    sign = -1.0 if right else 1.0
    return {
        name: {
            "x_px": centre_px[0] + sign * lateral / mm_per_px,
            "y_px": centre_px[1] - up / mm_per_px,
        }
        for name, (lateral, up) in leg.points_mm().items()
    }


def written_case(folder: Path, treated: LegByHand, other: LegByHand, *, side: str = "right") -> Path:
    right, left = (treated, other) if side == "right" else (other, treated)
    case = {
        "schema_version": 1,
        "id": "by-hand",
        "side": side,
        "patient": {"id": "P1", "sex": "female", "age_years": 31.0},
        "films": [
            {
                "name": "frontal",
                "projection": "frontal",
                "width_px": 3000,
                "height_px": 5000,
                "scale": {
                    "header": {"pixel_spacing_mm": [MM_PER_PX, MM_PER_PX], "calibration_type": "FIDUCIAL"}
                },
                "right": marks_px(right, right=True, mm_per_px=MM_PER_PX, centre_px=(900.0, 2600.0)),
                "left": marks_px(left, right=False, mm_per_px=MM_PER_PX, centre_px=(2100.0, 2600.0)),
            }
        ],
    }
    path = folder / "case.json"
    path.write_text(json.dumps(case))
    return path


def measured(path: Path) -> dict[str, Any]:
    shown = CliRunner().invoke(cli, ["measure", str(path), "--json"])
    assert shown.exit_code == 0, shown.output
    result: dict[str, Any] = json.loads(shown.output)
    return result


def value(leg: dict[str, Any], measure: str) -> float:
    reading = next(r for r in leg["readings"] if r["measure"] == measure)
    magnitude: float = reading.get("deg", reading.get("mm"))
    return (
        -magnitude if reading.get("direction") in {"valgus", "lateral"} and measure != "JLCA" else magnitude
    )


LEGS = [
    LegByHand(),
    LegByHand(mldfa_deg=82.0, mpta_deg=96.0, jlca_deg=0.5, ldta_deg=84.0, femur_mm=402.5),
    LegByHand(mldfa_deg=88.0, mpta_deg=87.0, jlca_deg=0.0, ldta_deg=89.0, mlpfa_deg=85.0, tibia_mm=311.25),
]


@pytest.mark.parametrize("leg", LEGS)
def test_the_command_measures_what_the_leg_was_drawn_with(tmp_path: Path, leg: LegByHand) -> None:
    treated = measured(written_case(tmp_path, leg, LegByHand()))["treated"]
    for measure, drawn in {
        "mLDFA": leg.mldfa_deg,
        "MPTA": leg.mpta_deg,
        "JLCA": leg.jlca_deg,
        "LDTA": leg.ldta_deg,
        "mLPFA": leg.mlpfa_deg,
        "HKA": leg.varus_deg(),
        "MAD": leg.mad_mm(),
        "femur length": leg.femur_mm,
        "tibia length": leg.tibia_mm,
    }.items():
        assert value(treated, measure) == pytest.approx(drawn, abs=0.01), measure


def test_left_and_right_mirrored_cases_give_identical_results(tmp_path: Path) -> None:
    a, b = LEGS[1], LEGS[2]
    right = measured(written_case(tmp_path, a, b, side="right"))
    left = measured(written_case(tmp_path, a, b, side="left"))
    for part in ("treated", "other", "difference", "templates"):
        assert json.loads(json.dumps(right[part]), parse_float=_rounded) == json.loads(
            json.dumps(left[part]), parse_float=_rounded
        )


def _rounded(text: str) -> float:
    return round(float(text), 3)


@pytest.mark.parametrize(
    ("landmark", "measure"),
    [
        ("ankle_centre", "MAD"),
        ("lateral_plateau", "MPTA"),
        ("medial_femoral_condyle", "mLDFA"),
        ("femoral_head_centre", "femur length"),
    ],
)
def test_a_landmark_moved_by_one_millimetre_changes_results_as_its_uncertainty_predicts(
    tmp_path: Path, landmark: str, measure: str
) -> None:
    path = written_case(tmp_path, LEGS[0], LEGS[2])
    case = json.loads(path.read_text())
    marks = case["films"][0]["right"]

    def asked() -> tuple[float, float]:
        path.write_text(json.dumps(case))
        treated = measured(path)["treated"]
        reading = next(r for r in treated["readings"] if r["measure"] == measure)
        return value(treated, measure), reading.get("sd_deg", reading.get("sd_mm"))

    for mark in marks.values():
        mark["sd_px"] = 1e-9  # one landmark alone is to carry uncertainty; what is left is the scale's
    marks[landmark]["sd_px"] = 1.0 / MM_PER_PX
    _, with_landmark = asked()
    marks[landmark]["sd_px"] = 1e-9
    centre, of_scale = asked()
    changes = []
    for axis in ("x_px", "y_px"):
        marks[landmark][axis] += 1.0 / MM_PER_PX
        changes.append(asked()[0] - centre)
        marks[landmark][axis] -= 1.0 / MM_PER_PX
    predicted = math.sqrt(with_landmark**2 - of_scale**2)
    assert math.hypot(*changes) == pytest.approx(predicted, rel=0.03)


def test_apexes_and_the_deformity_in_space_are_told(demo_cases: dict[str, Path]) -> None:
    found = measured(demo_cases["demo-c"])
    (tibia,) = [d for d in found["deformities_in_space"] if d["bone"] == "tibia"]
    # The invented patient was drawn with 9 degrees of varus and 7 of procurvatum at one level.
    drawn = math.degrees(math.atan(math.hypot(math.tan(math.radians(9)), math.tan(math.radians(7)))))
    assert tibia["true_angulation"]["deg"] == pytest.approx(drawn, abs=0.5)
    assert tibia["plane_from_frontal"]["deg"] == pytest.approx(38.0, abs=2.5)
    assert "anterolateral" in tibia["true_angulation"]["apex"]
    assert tibia["one_turn"]["angle_deg"] == pytest.approx(tibia["true_angulation"]["deg"], abs=0.1)
    planes = {(d["bone"], d["projection"]): d for d in found["deformities"]}
    (apex,) = planes["tibia", "frontal"]["apexes"]
    assert apex["angulation"]["direction"] == "varus"
