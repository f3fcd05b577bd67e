from limbwright.plan.decision import FibularFixation
from limbwright.plan.fibula_finding import TibialLevels, level_findings, tip_findings, why_screws
from limbwright.practice.profile import Profile


def test_why_both_screws_names_published_figures_with_sources() -> None:
    proximal, distal = why_screws(40, Profile())
    assert "2.6 mm" in proximal.words
    assert "19 mm" in proximal.words
    assert "5 mm or more" in distal.words
    assert "Park" in distal.source.text
    assert {proximal.severity, distal.severity} == {"note"}


def test_nothing_to_say_when_tips_are_marked_and_levels_are_well() -> None:
    levels = TibialLevels(
        tibia_length_mm=350,
        osteotomy_below_plateau_mm=120,
        fibular_head_below_plateau_mm=12,
        malleolus_below_plafond_mm=18,
    )
    fixation = FibularFixation(
        osteotomy_above_ankle_mm=117.5,
        proximal_screw_below_plateau_mm=20,
        distal_screw_above_plafond_mm=35,
        screw_diameter_mm=4.5,
        cortices=4,
    )
    assert tip_findings(levels, tips=(12, 18)) == []
    level = 12 + 0.67 * 356
    assert level_findings(levels, level, fixation, tips=(12, 18), profile=Profile()) == []
