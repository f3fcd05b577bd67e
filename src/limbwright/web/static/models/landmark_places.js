/**
 * Where each landmark lies on the small figure, and how it is found. Pure.
 *
 * Figure: 120 wide, 300 high; frontal: lateral to the right; sagittal: anterior to the right.
 * @module
 */

/** @type {Record<string, {frontal?: [number, number], sagittal?: [number, number], hint: string}>} */
export const PLACES = {
  femoral_head_centre: { frontal: [42, 26], sagittal: [56, 26], hint: "centre of the circle that fits the round of the femoral head" },
  greater_trochanter_tip: { frontal: [76, 25], hint: "highest point of the greater trochanter" },
  femoral_neck_centre: { frontal: [55, 36], hint: "middle of the narrowest part of the neck" },
  femur_proximal_shaft_upper: { frontal: [66, 62], sagittal: [60, 62], hint: "halfway between the outer cortical edges, below the lesser trochanter" },
  femur_proximal_shaft_lower: { frontal: [65, 80], sagittal: [64, 80], hint: "halfway between the outer cortical edges, lower on the proximal straight stretch" },
  femur_middle_shaft_upper: { frontal: [64, 86], sagittal: [65, 86], hint: "halfway between the outer edges, on a middle straight stretch between two bends" },
  femur_middle_shaft_lower: { frontal: [63, 98], sagittal: [65, 98], hint: "halfway between the outer edges, lower on the middle stretch" },
  femur_distal_shaft_upper: { frontal: [62, 104], sagittal: [64, 104], hint: "halfway between the outer cortical edges, upper on the distal straight stretch" },
  femur_distal_shaft_lower: { frontal: [60, 120], sagittal: [60, 120], hint: "halfway between the outer cortical edges, above the flare of the condyles" },
  medial_femoral_condyle: { frontal: [46, 145], hint: "lowest point of the medial condyle" },
  lateral_femoral_condyle: { frontal: [70, 144], hint: "lowest point of the lateral condyle" },
  distal_femoral_physis_anterior: { sagittal: [66, 131], hint: "front end of the distal femoral physis or its scar" },
  distal_femoral_physis_posterior: { sagittal: [44, 133], hint: "back end of the distal femoral physis or its scar" },
  femur_knee_centre: { frontal: [58, 141], sagittal: [55, 141], hint: "middle of the distal femur at the notch" },
  tibia_knee_centre: { frontal: [58, 151], sagittal: [55, 152], hint: "middle of the tibial plateau, between the spines" },
  medial_plateau: { frontal: [43, 152], hint: "medial end of the plateau's joint line" },
  lateral_plateau: { frontal: [73, 151], hint: "lateral end of the plateau's joint line" },
  plateau_anterior: { sagittal: [68, 152], hint: "front end of the plateau's joint line" },
  plateau_posterior: { sagittal: [42, 155], hint: "back end of the plateau's joint line" },
  tibial_tuberosity: { sagittal: [68, 168], hint: "most forward point of the tuberosity" },
  tibia_proximal_shaft_upper: { frontal: [57, 178], sagittal: [58, 178], hint: "halfway between the outer cortical edges, below the metaphysis" },
  tibia_proximal_shaft_lower: { frontal: [57, 196], sagittal: [57, 196], hint: "halfway between the outer edges, lower on the proximal straight stretch" },
  tibia_middle_shaft_upper: { frontal: [57, 202], sagittal: [57, 202], hint: "halfway between the outer edges, on a middle straight stretch between two bends" },
  tibia_middle_shaft_lower: { frontal: [57, 216], sagittal: [56, 216], hint: "halfway between the outer edges, lower on the middle stretch" },
  tibia_distal_shaft_upper: { frontal: [57, 224], sagittal: [55, 224], hint: "halfway between the outer cortical edges, upper on the distal straight stretch" },
  tibia_distal_shaft_lower: { frontal: [57, 248], sagittal: [54, 248], hint: "halfway between the outer cortical edges, above the flare of the plafond" },
  medial_plafond: { frontal: [49, 268], hint: "medial end of the plafond's joint line" },
  lateral_plafond: { frontal: [66, 268], hint: "lateral end of the plafond's joint line" },
  plafond_anterior: { sagittal: [63, 267], hint: "front end of the plafond" },
  plafond_posterior: { sagittal: [45, 270], hint: "back end of the plafond" },
  ankle_centre: { frontal: [58, 270], sagittal: [54, 271], hint: "middle of the talar dome" },
  fibular_head_tip: { frontal: [78, 161], hint: "top of the fibular head" },
  lateral_malleolus_tip: { frontal: [74, 279], hint: "lowest point of the lateral malleolus" },
};

/** Outlines of the figure, frontal and sagittal. */
export const FIGURE = {
  frontal: [
    "M34 27a9 9 0 1 1 15 6l9 8c4-8 10-17 17-17 5 0 4 9 1 15-3 7-4 14-5 24l-4 48c0 12 5 22 8 27 2 6 0 10-5 10-5 0-7-4-12-4s-7 4-12 4c-6 0-7-5-5-10 5-7 10-18 10-30l2-45c0-12-1-18-4-22l-6-7a9 9 0 0 1-9-7z",
    "M40 152c6-3 12-1 18-3 6 2 12 0 18 3-1 8-9 14-11 24l-2 50c0 18 2 28 5 41l-19 1c-1 4-4 5-4 0 1-10 5-26 5-42l-2-48c-1-11-7-17-8-26z",
    "M75 160c4-1 6 2 5 6l-2 12-1 60c0 12 1 20 1 30-1 6-2 11-5 11s-3-6-2-12c1-12 2-20 2-30l-1-58c-1-8-1-17 3-19z",
  ],
  sagittal: [
    "M47 26a9 9 0 1 1 16 6c2 10 5 20 6 32 4 16 4 30 2 44-2 12-1 16 0 24 0 8-6 12-14 13-8 1-16-1-16-7s7-9 9-17c3-14 6-26 5-40-1-18-4-34-5-46a9 9 0 0 1-3-9z",
    "M41 154c9-2 18-4 28-3 1 7 2 12 0 18-4 4-5 10-5 18l-3 42c-1 14 1 26 4 38-7 0-12 4-20 4 4-12 5-24 5-40l-1-44c-1-14-8-22-8-33z",
    "M45 270c6 6 14 4 19-1 6 6 14 12 24 16 3 2 2 5-1 5H38c-4-6 2-14 7-20z",
  ],
};
