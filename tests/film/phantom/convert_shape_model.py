"""Convert the shape model of 26 legs to plain arrays, once.

`python convert_shape_model.py MODELS_DIR OUT.npz`

MODELS_DIR is `musculoskeletal/models` of the package musculoskeletal-models 0.2.4 (MPL-2.0). Run it in an
environment of its own with gias3.fieldwork 3.0.1 and numpy; neither is needed afterwards. The model file is a
pickle, so it is read here and nowhere else, and only the few numpy names it holds are admitted.
"""

import hashlib
import pickle
import sys
from pathlib import Path

import numpy as np
import scipy

BONES = (
    # Name, first and last node of the model, atlas files, points along each element's edge.
    ("pelvis", 0, 1946, "pelvis_combined_cubic_mean_rigid_LLP26", "pelvis_combined_cubic_flat", 5),
    ("femur", 1946, 2580, "femur_left_mean_rigid_LLP26", "femur_left_quartic_flat", 9),
    ("patella", 2580, 2654, "patella_left_mean_rigid_LLP26", "patella_11_left", 6),
    (
        "tibia_fibula",
        2654,
        3225,
        "tibia_fibula_cubic_left_mean_rigid_LLP26",
        "tibia_fibula_left_cubic_flat",
        8,
    ),
)
STEP_MM = 0.01


class _NumbersOnly(pickle.Unpickler):
    def find_class(self, module, name):
        if (module, name) not in {
            ("numpy.core.multiarray", "_reconstruct"),
            ("numpy", "ndarray"),
            ("numpy", "dtype"),
        }:
            raise pickle.UnpicklingError(f"{module}.{name} is not expected in the shape model")
        return super().find_class(module, name)


def main(models: Path, out: Path) -> None:
    # gias3.fieldwork 3.0.1 still asks scipy for names that moved to numpy long ago.
    moved = "dot array zeros ones sqrt cross mean hstack vstack newaxis where"
    for name in moved.split():
        if not hasattr(scipy, name):
            setattr(scipy, name, getattr(np, name))
    from gias3.fieldwork.field import geometric_field

    source = models / "shape_models" / "LLP26_rigid.pc"
    with source.open("rb") as file:
        model = _NumbersOnly(file, encoding="latin1").load()
    people = (model["mean"][:, None] + model["modes"] @ model["projectedWeights"]).T.reshape(26, 3, 3225)
    arrays = {"source_sha256": np.array(hashlib.sha256(source.read_bytes()).hexdigest())}
    for name, first, last, geometry, mesh, density in BONES:
        atlas = models / "atlas_meshes"
        field = geometric_field.load_geometric_field(
            str(atlas / f"{geometry}.geof"), str(atlas / f"{mesh}.ens"), str(atlas / f"{mesh}.mesh")
        )
        mean = np.array(field.get_field_parameters())[:, :, 0]
        if not np.allclose(mean, model["mean"].reshape(3, 3225)[:, first:last], atol=1e-6):
            raise SystemExit(f"{name}: nodes {first}-{last} of the model are not those of the atlas mesh")
        points, triangles, kept, _ = field.triangulate([density, density], merge=True, ret_vert_map=True)
        field.flatten_ensemble_field_function()
        own = []
        for person in people:
            field.set_field_parameters(person[:, first:last, None])
            own.append(field.evaluate_geometric_field([density, density]).T[kept])
        away = np.array(own) - points
        steps = np.rint(away / STEP_MM)
        if np.abs(steps).max() > 32767:
            raise SystemExit(f"{name}: a person is more than 327 mm from the mean")
        arrays[f"{name}_mean_mm"] = points.astype(np.float32)
        arrays[f"{name}_triangles"] = np.asarray(triangles, dtype=np.int16)
        arrays[f"{name}_people_cmm"] = steps.astype(np.int16)
    np.savez_compressed(out, **arrays)
    print(out, out.stat().st_size, hashlib.sha256(out.read_bytes()).hexdigest())


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
