"""The practice profile: one field per setting.

Written by `declaration.py`; to change it, change `tables/settings.csv`.
"""

from dataclasses import dataclass, fields
from typing import Literal

from limbwright.practice.consistency import require_consistent
from limbwright.practice.setting import Answer, setting
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile(Value):
    """A surgeon's own numbers; `Profile()` holds our defaults. Sources: `limbwright.practice.setting`."""

    # Goal and tolerance
    length_tolerance_mm: float = 5.0
    """How far the end length may lie from the goal. [mm]"""
    mad_tolerance_mm: float = 7.0
    """How far the mechanical axis deviation may lie from the goal. [mm]"""
    angle_tolerance_deg: float = 2.5
    """How far a frontal joint-orientation angle may lie from the goal. [deg]"""
    sagittal_tolerance_deg: float = 4.0
    """How far a sagittal joint-orientation angle may lie from the goal. [deg]"""
    rotation_tolerance_deg: float = 10.0
    """Side-to-side difference of rotation that is left alone. [deg]"""
    knee_height_tolerance_mm: float = 20.0
    """Difference of knee height that is left alone at the end. [mm]"""
    discrepancy_treat_from_mm: float = 20.0
    """Discrepancy at maturity below which no more than a lift is offered. [mm]"""
    discrepancy_lengthen_from_mm: float = 50.0
    """Discrepancy at maturity above which lengthening is considered while the patient still grows. [mm]"""
    prefer_opposite_leg_template: bool = True
    """Use the opposite leg as the template when it is within the normal ranges."""

    # Amount of lengthening
    max_lengthening_femur_mm: float = 80.0
    """Most that the femur is lengthened in one stage. [mm]"""
    max_lengthening_tibia_mm: float = 60.0
    """Most that the tibia is lengthened in one stage. [mm]"""
    max_lengthening_percent_of_bone: float = 20.0
    """Most that a bone is lengthened in one stage, as a share of its length. [%]"""
    caution_lengthening_percent_of_bone: float = 15.0
    """Lengthening, as a share of the bone's length, from which soft tissues are watched more closely. [%]"""
    new_bone_risk_lengthening_mm: float = 40.0
    """Lengthening above which poor new bone is more likely. [mm]"""
    new_bone_risk_age_years: float = 30.0
    """Age from which poor new bone is more likely. [years]"""
    fracture_risk_lengthening_percent: float = 30.0
    """Lengthening, as a share of the bone's length, above which fracture of the new bone is more likely.
    [%]"""

    # Osteotomy
    osteotomy_min_to_hip_mm: float = 80.0
    """Least distance of a femoral osteotomy from the tip of the greater trochanter. [mm]"""
    osteotomy_min_above_knee_mm: float = 70.0
    """Least distance of a femoral osteotomy above the knee line. [mm]"""
    osteotomy_min_below_knee_mm: float = 70.0
    """Least distance of a tibial osteotomy below the knee line. [mm]"""
    osteotomy_min_above_ankle_mm: float = 70.0
    """Least distance of a tibial osteotomy above the plafond. [mm]"""
    osteotomy_min_to_hardware_mm: float = 20.0
    """Least distance of the osteotomy from hardware that stays or is planned. [mm]"""
    osteotomy_to_apex_mm: float = 10.0
    """Distance from the apex within which the osteotomy counts as at the apex. [mm]"""
    metaphysis_preference_mm: float = 15.0
    """Distance from the apex that is accepted to cut in metaphyseal instead of diaphyseal bone. [mm]"""
    max_translation_at_osteotomy_mm: float = 10.0
    """Largest sideways shift of the bone ends at the osteotomy that is accepted. [mm]"""
    min_bone_contact_percent: float = 50.0
    """Least share of the bone's width that must stay in contact across the cut after correction. [%]"""
    apex_levels_agree_mm: float = 20.0
    """Difference in level within which the apexes of both planes count as one apex. [mm]"""
    middle_fragment_min_mm: float = 60.0
    """Least length of the fragment between two osteotomies of one bone. [mm]"""
    second_osteotomy_from_deg: float = 5.0
    """Least angle of an apex for which a second osteotomy of the bone is proposed unasked. [deg]"""
    max_acute_correction_deg: float = 30.0
    """Largest angle that is corrected at once over a nail. [deg]"""

    # Nail length and diameter
    overlap_mm: float = 50.0
    """Thick part of the nail wanted inside the moving fragment at full length. [mm]"""
    exposed_thin_mm: float = 30.0
    """Thin part of the nail allowed for at the start when the nail's length is worked out. [mm]"""
    tip_clearance_to_joint_mm: float = 15.0
    """Least distance of the nail's far tip from the joint line. [mm]"""
    nail_end_below_surface_mm: float = 3.0
    """Depth to which the nail's entry end is sunk below the bone's surface. [mm]"""
    nail_length_preference: Literal["shorter", "longer"] = "shorter"
    """Which of two fitting nail lengths is offered first."""
    nail_lengths_offered: int = 2
    """Number of fitting nail lengths shown."""
    nail_diameter_preference: Literal["thicker", "thinner"] = "thicker"
    """Which of several fitting nail diameters is offered first."""
    over_reaming_mm: float = 2.0
    """How much wider than the nail the canal is reamed. [mm]"""
    reaming_beyond_canal_mm: float = 2.0
    """How much wider than the canal at its narrowest the reamer may be. [mm]"""
    cortex_left_mm: float = 3.0
    """Least thickness of cortex left on each side after reaming. [mm]"""
    nail_straightness_gap_mm: float = 1.0
    """Misfit of the nail's shape against the reamed canal that is accepted. [mm]"""
    hole_to_osteotomy_min_mm: float = 20.0
    """Least distance of a nail hole from the osteotomy, at the start and at full length. [mm]"""
    locking_screws_per_fragment: int = 2
    """Locking screws wanted in each fragment."""

    # Drift and blocking screws
    drift_limit_deg: float = 3.0
    """Angulation during lengthening, in either plane, above which the plan or the course is changed. [deg]"""
    drift_watch_deg: float = 2.0
    """Angulation during lengthening from which it is watched. [deg]"""
    canal_gap_for_blocking_screw_mm: float = 2.0
    """Gap between nail and cortex, on the side the fragment drifts away from, above which a blocking screw is
    considered. [mm]"""
    blocking_screw_min_to_osteotomy_mm: float = 10.0
    """Least distance of a blocking screw from the osteotomy. [mm]"""
    blocking_screw_max_to_osteotomy_mm: float = 30.0
    """Greatest distance of a blocking screw from the osteotomy. [mm]"""
    blocking_screw_diameter_mm: float = 5.0
    """Diameter of a blocking screw. [mm]"""
    blocking_screw_drill_mm: float = 4.2
    """Drill used for a blocking screw. [mm]"""
    blocking_screw_clearance_mm: float = 0.5
    """Play left between blocking screw and nail. [mm]"""
    blocking_screw_to_hardware_mm: float = 3.0
    """Least distance between a blocking screw and other hardware, surface to surface. [mm]"""
    blocking_screws_max: int = 3
    """Most blocking screws considered in one plan."""
    blocking_screw_worth_deg: float = 0.5
    """Angulation that one more blocking screw must save to be offered. [deg]"""
    thick_beside_blocking_screw_mm: float = 5.0
    """Thick part that must still reach beyond a blocking screw at full length. [mm]"""
    locking_play_mm: float = 0.15
    """Play of a locking screw in its hole, to each side. [mm]"""

    # Drift forecast
    tissue_tension_resting_n: float = 50.0
    """Soft-tissue tension along the nail before lengthening. [N]"""
    tissue_tension_rate_tibia_n_per_mm: float = 6.0
    """Growth of soft-tissue tension per millimetre gained, tibia. [N/mm]"""
    tissue_tension_rate_femur_n_per_mm: float = 7.5
    """Growth of soft-tissue tension per millimetre gained, femur. [N/mm]"""
    tissue_tension_curvature_n_per_mm2: float = 0.0
    """Growth of that growth per millimetre gained. [N/mm2]"""
    tissue_arm_proximal_tibia_valgus_mm: float = 15.0
    """Lever arm of the soft-tissue tension toward valgus, osteotomy of the proximal tibia; below zero it
    pulls the other way. [mm]"""
    tissue_arm_proximal_tibia_procurvatum_mm: float = 20.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the proximal tibia; below zero it
    pulls the other way. [mm]"""
    tissue_arm_mid_tibia_valgus_mm: float = 10.0
    """Lever arm of the soft-tissue tension toward valgus, osteotomy of the mid tibia; below zero it pulls the
    other way. [mm]"""
    tissue_arm_mid_tibia_procurvatum_mm: float = 15.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the mid tibia; below zero it
    pulls the other way. [mm]"""
    tissue_arm_distal_tibia_varus_mm: float = 6.0
    """Lever arm of the soft-tissue tension toward varus, osteotomy of the distal tibia; below zero it pulls
    the other way. [mm]"""
    tissue_arm_distal_tibia_procurvatum_mm: float = 10.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the distal tibia; below zero it
    pulls the other way. [mm]"""
    tissue_arm_proximal_femur_varus_mm: float = 20.0
    """Lever arm of the soft-tissue tension toward varus, osteotomy of the proximal femur; below zero it pulls
    the other way. [mm]"""
    tissue_arm_proximal_femur_procurvatum_mm: float = 15.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the proximal femur; below zero it
    pulls the other way. [mm]"""
    tissue_arm_mid_femur_varus_mm: float = 10.0
    """Lever arm of the soft-tissue tension toward varus, osteotomy of the mid femur; below zero it pulls the
    other way. [mm]"""
    tissue_arm_mid_femur_procurvatum_mm: float = 10.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the mid femur; below zero it
    pulls the other way. [mm]"""
    tissue_arm_distal_femur_valgus_mm: float = 12.0
    """Lever arm of the soft-tissue tension toward valgus, osteotomy of the distal femur; below zero it pulls
    the other way. [mm]"""
    tissue_arm_distal_femur_procurvatum_mm: float = 18.0
    """Lever arm of the soft-tissue tension toward procurvatum, osteotomy of the distal femur; below zero it
    pulls the other way. [mm]"""
    walking_load_factor: float = 2.5
    """Force along the bone in walking, as a multiple of the weight put on the leg."""
    nail_joint_clearance_mm: float = 0.05
    """Diametral clearance of the rod in the thick part. [mm]"""
    blocking_screw_stiffness_n_per_mm: float = 3000.0
    """Stiffness of a blocking screw and the bone around it. [N/mm]"""
    blocking_screw_notch_mm: float = 3.0
    """How far a blocking screw may cut into the inner cortex. [mm]"""
    blocking_screw_step_price_deg_per_mm: float = 0.05
    """Degrees that a millimetre of step at the cut counts as when layouts of blocking screws are ranked.
    [deg/mm]"""
    blocking_screw_runner_up_deg: float = 0.05
    """Layouts of blocking screws this close to the best are shown beside it. [deg]"""
    blocking_screw_level_error_mm: float = 2.0
    """Standard deviation of the level at which a blocking screw ends up. [mm]"""
    canal_width_error_mm: float = 0.6
    """Standard deviation of a canal width read on a calibrated film. [mm]"""
    path_error_mm: float = 1.0
    """Standard deviation of the nail's line across the canal, once driven. [mm]"""
    osteotomy_level_error_mm: float = 3.0
    """Standard deviation of the level at which the bone is really cut. [mm]"""
    correction_error_deg: float = 1.0
    """Standard deviation of the angle to which the bone is really corrected, in each plane. [deg]"""
    new_bone_start_stiffness_nm_per_deg: float = 0.005
    """Bending stiffness of new bone on the first day of distraction. [N m/deg]"""
    new_bone_doubling_days: float = 16.0
    """Days in which the bending stiffness of new bone doubles. [days]"""
    new_bone_healed_stiffness_nm_per_deg: float = 15.0
    """Bending stiffness at which new bone counts as healed. [N m/deg]"""
    new_bone_shear_ratio: float = 1.0
    """Shear stiffness of new bone in N/mm per N m/deg of its bending stiffness."""
    probability_wanted_percent: float = 80.0
    """Probability of ending inside all tolerances below which a plan is said to be uncertain. [%]"""

    # Fibula
    fibula_osteotomy_share_of_length: float = 67.0
    """Level of the fibular osteotomy from its proximal end, as a share of its length. [%]"""
    fibula_osteotomy_min_to_tibial_cut_mm: float = 30.0
    """Least difference in level between the fibular and the tibial osteotomy. [mm]"""
    fibula_osteotomy_min_above_ankle_mm: float = 70.0
    """Least distance of the fibular osteotomy above the plafond. [mm]"""
    tibiofibular_proximal_below_knee_mm: float = 20.0
    """Level of the proximal tibiofibular screw below the knee line. [mm]"""
    tibiofibular_distal_above_ankle_mm: float = 35.0
    """Level of the distal tibiofibular screw above the plafond. [mm]"""
    tibiofibular_distal_above_ankle_min_mm: float = 20.0
    """Lowest level of the distal tibiofibular screw above the plafond. [mm]"""
    tibiofibular_distal_above_ankle_max_mm: float = 50.0
    """Highest level of the distal tibiofibular screw above the plafond. [mm]"""
    tibiofibular_screw_diameter_mm: float = 4.5
    """Diameter of a tibiofibular screw, which is solid. [mm]"""
    tibiofibular_screw_drill_mm: float = 3.2
    """Drill used for a tibiofibular screw. [mm]"""
    tibiofibular_screw_oblique_deg: float = 30.0
    """Slope of a tibiofibular screw from the frontal plane, fibula posterior. [deg]"""
    tibiofibular_proximal_screws: int = 1
    """Tibiofibular screws at the proximal end."""
    tibiofibular_distal_screws: int = 1
    """Tibiofibular screws at the distal end."""
    tibiofibular_cortices: int = 4
    """Cortices that a tibiofibular screw should hold."""
    tibiofibular_screw_removal_months: float = 6.0
    """Earliest removal of tibiofibular screws after union, unless the nail goes first. [months]"""
    fibular_head_migration_watch_mm: float = 5.0
    """Distal migration of the fibular head from which it is watched. [mm]"""
    fibular_head_migration_alert_mm: float = 10.0
    """Distal migration of the fibular head from which it is acted on. [mm]"""
    malleolus_migration_watch_mm: float = 3.0
    """Proximal migration of the lateral malleolus from which it is watched. [mm]"""
    malleolus_migration_alert_mm: float = 5.0
    """Proximal migration of the lateral malleolus from which it is acted on. [mm]"""

    # Fixator-assisted correction and approach
    tibial_approach: Literal["suprapatellar", "infrapatellar"] = "suprapatellar"
    """Approach for a tibial nail, above or below the patella."""
    pin_diameter_mm: float = 5.0
    """Diameter of a fixator pin. [mm]"""
    pin_clearance_to_nail_mm: float = 3.0
    """Least distance of a pin from the reamed path, surface to surface. [mm]"""
    pin_clearance_to_joint_mm: float = 15.0
    """Least distance of a pin from the joint line. [mm]"""
    pin_clearance_to_osteotomy_mm: float = 20.0
    """Least distance of a pin from the osteotomy. [mm]"""
    pin_beyond_tip_mm: float = 10.0
    """Least distance of a distal pin beyond the nail's tip. [mm]"""

    # Nerves and soft tissue
    calf_release_lengthening_mm: float = 40.0
    """Tibial lengthening above which a calf release is likely. [mm]"""
    calf_release_percent_of_tibia: float = 13.0
    """Tibial lengthening, as a share of the tibia, above which a calf release is likely. [%]"""
    calf_release_timing: Literal["at the operation", "staged"] = "staged"
    """When a likely calf release is planned."""
    nerve_caution_acute_deg: float = 5.0
    """Acute correction of valgus or of flexion above which the peroneal nerve is decompressed first or
    watched. [deg]"""
    nerve_caution_gradual_deg: float = 15.0
    """Gradual correction of valgus or of flexion above which the peroneal nerve is decompressed first or
    watched. [deg]"""
    equinus_limit_resting_deg: float = 0.0
    """Equinus before or after lengthening above which a calf release is advised. [deg]"""
    equinus_limit_lengthening_deg: float = 10.0
    """Equinus during lengthening above which a calf release is advised. [deg]"""
    dorsiflexion_slow_below_deg: float = 0.0
    """Ankle dorsiflexion with the knee straight below which lengthening is slowed. [deg]"""
    knee_flexion_wanted_deg: float = 90.0
    """Knee flexion wanted while the femur lengthens. [deg]"""
    knee_flexion_slow_below_deg: float = 45.0
    """Knee flexion below which femoral lengthening is slowed. [deg]"""
    knee_flexion_stop_below_deg: float = 40.0
    """Knee flexion below which femoral lengthening is stopped. [deg]"""
    knee_extension_loss_femur_deg: float = 20.0
    """Loss of knee extension, femur lengthening, from which a brace or more therapy is advised. [deg]"""
    knee_flexion_contracture_tibia_deg: float = 10.0
    """Flexion contracture of the knee, tibia lengthening, from which it is acted on. [deg]"""
    hip_centre_edge_angle_min_deg: float = 20.0
    """Centre-edge angle below which the hip is treated before the femur is lengthened. [deg]"""

    # Distraction
    latency_femur_adult_days: float = 5.0
    """Days from the operation to the first distraction, adult femur. [days]"""
    latency_femur_child_days: float = 4.0
    """Days from the operation to the first distraction, child's femur. [days]"""
    latency_tibia_adult_days: float = 7.0
    """Days from the operation to the first distraction, adult tibia. [days]"""
    latency_tibia_child_days: float = 5.0
    """Days from the operation to the first distraction, child's tibia. [days]"""
    child_below_age_years: float = 16.0
    """Age below which the child's latency and healing apply. [years]"""
    distraction_step_mm: float = 0.25
    """Length of one distraction step. [mm]"""
    fast_start_days_femur: int = 4
    """Days of the fast start, femur. [days]"""
    fast_start_steps_per_day_femur: int = 4
    """Steps a day in the fast start, femur. [per day]"""
    steady_steps_per_day_femur: int = 4
    """Steps a day after the fast start, femur. [per day]"""
    fast_start_days_tibia: int = 4
    """Days of the fast start, tibia. [days]"""
    fast_start_steps_per_day_tibia: int = 4
    """Steps a day in the fast start, tibia. [per day]"""
    steady_steps_per_day_tibia: int = 3
    """Steps a day after the fast start, tibia. [per day]"""
    max_rate_mm_per_day: float = 1.5
    """Fastest distraction ever prescribed. [mm/day]"""
    quickened_rate_mm_per_day: float = 1.25
    """Rate offered when new bone bridges early. [mm/day]"""
    slowed_rate_mm_per_day: float = 0.5
    """Rate offered when new bone, joints or nerves lag. [mm/day]"""
    premature_consolidation_rate_mm_per_day: float = 0.5
    """Rate at or below which early bridging is watched for. [mm/day]"""
    reverse_rate_mm_per_day: float = 0.75
    """Rate at which a nail is shortened when lengthening is reversed. [mm/day]"""
    accordion_rate_mm_per_day: float = 0.75
    """Rate of each leg of alternating shortening and lengthening. [mm/day]"""
    accordion_days: float = 47.0
    """Duration of alternating shortening and lengthening for poor new bone. [days]"""
    film_interval_lengthening_days: int = 14
    """Days between films while lengthening. [days]"""
    film_interval_shortened_days: int = 7
    """Days to the next film when something is watched. [days]"""
    film_interval_consolidation_days: int = 28
    """Days between films after lengthening, until healed. [days]"""
    length_disagreement_mm: float = 3.0
    """Difference between prescribed and measured length from which the nail or the diary is questioned.
    [mm]"""

    # Steering
    drift_real_percent: float = 95.0
    """Probability that a fragment has really moved from which drift is told from reading noise. [%]"""
    drift_crossing_percent: float = 33.0
    """Probability of passing the drift limit before the target from which it is foretold. [%]"""
    new_bone_slow_sd: float = 1.0
    """Standard deviations between patients behind the mean healing time from which new bone counts as
    slow."""
    new_bone_poor_sd: float = 2.0
    """Standard deviations between patients behind the mean healing time from which new bone counts as
    poor."""
    pain_slow_from: float = 7.0
    """Pain, 0 to 10, from which lengthening is slowed."""
    nerve_recovery_days: float = 7.0
    """Days within which nerve signs should recede once lengthening rests. [days]"""
    lesser_goal_visits: int = 2
    """Visits in a row with reason to hold or to slow after which a lesser goal is offered."""
    early_bridging_left_mm: float = 5.0
    """Length still to go below which early bridging is no longer pointed out. [mm]"""
    premature_gain_percent: float = 50.0
    """Share of the reported length that must be gained between two films; less, with cortices bridged, means
    that the bone has closed. [%]"""
    gastrocnemius_gain_deg: float = 10.0
    """Dorsiflexion gained by bending the knee from which the gastrocnemius alone counts as tight. [deg]"""
    film_overdue_days: int = 3
    """Days after a film was due from which it is missed. [days]"""

    # Weight bearing
    weight_limit_8_5_mm_kg: float = 13.608
    """Weight on the leg while lengthening, thick part 8.5 mm (30 lb). [kg]"""
    weight_limit_10_7_mm_kg: float = 22.68
    """Weight on the leg while lengthening, thick part 10.7 mm (50 lb). [kg]"""
    weight_limit_12_5_mm_kg: float = 31.751
    """Weight on the leg while lengthening, thick part 12.5 mm (70 lb). [kg]"""
    partial_weight_cortices: int = 2
    """Bridged cortices, of four, from which more weight is allowed."""
    full_weight_cortices: int = 3
    """Bridged cortices, of four, from which full weight is considered."""

    # New bone and healing
    pixel_value_ratio_immature: float = 0.8
    """Pixel value ratio below which new bone counts as immature."""
    pixel_value_ratio_healed: float = 0.9
    """Pixel value ratio from which a cortex counts as healed."""
    callus_diameter_ratio_watch: float = 0.85
    """Ratio of narrowest new bone to bone width below which bending or fracture is more likely."""
    callus_diameter_ratio_alert: float = 0.7
    """Ratio of narrowest new bone to bone width below which fracture is likely."""
    healing_index_femur_antegrade_days_per_cm: float = 24.5
    """Days from operation to consolidation per centimetre gained, antegrade femur, mean. [days/cm]"""
    healing_index_femur_antegrade_sd_days_per_cm: float = 9.5
    """Its standard deviation between patients. [days/cm]"""
    healing_index_femur_retrograde_days_per_cm: float = 33.5
    """Days from operation to consolidation per centimetre gained, retrograde femur, mean. [days/cm]"""
    healing_index_femur_retrograde_sd_days_per_cm: float = 14.5
    """Its standard deviation between patients. [days/cm]"""
    healing_index_tibia_days_per_cm: float = 41.0
    """Days from operation to consolidation per centimetre gained, tibia, mean. [days/cm]"""
    healing_index_tibia_sd_days_per_cm: float = 17.4
    """Its standard deviation between patients. [days/cm]"""
    healing_child_factor: float = 0.75
    """A child's healing index as a share of an adult's."""
    nail_removal_months: float = 12.0
    """Months from the operation to removal of the nail. [months]"""

    # Growth and maturity
    tibial_nail_min_age_girl_years: float = 14.0
    """Least age of a girl for a tibial nail, when no skeletal age is known. [years]"""
    tibial_nail_min_age_boy_years: float = 16.0
    """Least age of a boy for a tibial nail, when no skeletal age is known. [years]"""
    skeletal_age_disagreement_years: float = 1.0
    """Difference between skeletal and calendar age from which it is pointed out. [years]"""
    prediction_error_mm: float = 20.0
    """Error within which a discrepancy at maturity is usually predicted. [mm]"""
    prediction_disagreement_mm: float = 10.0
    """Difference between two predictions of the discrepancy at maturity from which it is pointed out. [mm]"""

    # Reading and execution errors
    landmark_sd_mm: float = 1.0
    """Standard uncertainty of a shaft point's place on a film, in each direction. [mm]"""
    centre_landmark_sd_mm: float = 1.5
    """Standard uncertainty of a joint or head centre's place on a film, in each direction. [mm]"""
    tip_landmark_sd_mm: float = 1.5
    """Standard uncertainty of a tip's place on a film, in each direction. [mm]"""
    joint_line_landmark_sd_mm: float = 0.5
    """Standard uncertainty of the end of a joint line on a film, in each direction. [mm]"""
    wall_sd_mm: float = 0.7
    """Standard uncertainty of a traced bone wall, across the wall. [mm]"""
    nail_edge_reading_error_mm: float = 0.2
    """Reading error of the nail's diameter when it serves as scale. [mm]"""
    gap_reading_sd_mm: float = 0.9
    """Standard uncertainty of the gained length read on a follow-up film. [mm]"""
    angle_reading_sd_deg: float = 1.4
    """Standard uncertainty of an angle read on a film, one reader. [deg]"""
    mad_reading_sd_mm: float = 1.9
    """Standard uncertainty of the mechanical axis deviation read on a film, one reader. [mm]"""
    joint_motion_sd_deg: float = 3.0
    """Standard uncertainty of a joint motion measured at a visit, one examiner. [deg]"""
    pixel_value_ratio_sd: float = 0.03
    """Standard uncertainty of one cortex's pixel value ratio."""
    width_ratio_sd: float = 0.05
    """Standard uncertainty of the width of new bone over the width of bone."""
    beyond_noise_sd: float = 2.0
    """Standard uncertainties from which a difference of two readings counts as more than noise."""
    nail_gap_agree_sd: float = 3.0
    """Standard uncertainties within which length by nail and length by gap count as one."""
    film_tilt_deg: float = 10.0
    """Tilt of the nail out of a follow-up film's plane from which its angles are doubted. [deg]"""
    osteotomy_execution_sd_mm: float = 3.0
    """How far the osteotomy lies from its planned level, standard deviation. [mm]"""
    entry_execution_sd_mm: float = 2.0
    """How far the entry point lies from its planned place, standard deviation. [mm]"""
    path_execution_sd_deg: float = 1.0
    """How far the reamed path leans from its planned direction, standard deviation. [deg]"""
    blocking_screw_execution_sd_mm: float = 1.0
    """How far a blocking screw lies from its planned place across the nail, standard deviation. [mm]"""
    rotation_execution_sd_deg: float = 5.0
    """Error of rotation at the end of the operation, standard deviation. [deg]"""

    # Practice audit
    audit_confidence_percent: float = 95.0
    """Confidence of every interval of the practice audit. [%]"""
    audit_min_bones_median: int = 10
    """Least number of treated bones for which the audit gives a median."""
    audit_min_healed_curve: int = 10
    """Least number of bones seen to heal for which the audit draws a healing curve."""
    audit_min_bones_accuracy: int = 20
    """Least number of treated bones for which the audit gives bias and limits of agreement."""
    audit_min_bones_drift: int = 10
    """Least number of treated bones with and likewise without blocking screws for which the audit compares
    drift."""
    audit_min_events_regression: int = 10
    """Least number of calf releases and likewise of tibiae without one for which the audit fits a
    regression."""
    audit_min_bones_rate: int = 20
    """Least number of treated bones for which the audit gives a rate."""
    audit_min_bones_period: int = 10
    """Least number of treated bones in a period for which the audit compares its rate."""
    audit_min_bones_offer: int = 30
    """Least number of treated bones on which the audit offers the practice's own result as a setting."""
    audit_min_gained_mm: float = 10.0
    """Least length gained for which the audit computes a healing index. [mm]"""

    def __post_init__(self) -> None:
        for field in fields(self):
            object.__setattr__(self, field.name, setting(field.name).checked(getattr(self, field.name)))
        require_consistent({field.name: getattr(self, field.name) for field in fields(self)})

    def differences(self) -> dict[str, tuple[Answer, Answer]]:
        """Settings that are not our default, in the table's order: this profile's answer, our default."""
        pairs = {f.name: (getattr(self, f.name), setting(f.name).default) for f in fields(self)}
        return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}
