"""Random phantom patients, and their films, kept on disk where that is asked for."""

import copyreg
import hashlib
import pickle
from pathlib import Path
from types import MappingProxyType

import numpy as np

from limbwright.film import phantom
from limbwright.limb.anatomy import Bone


def _read_only(mapping: dict) -> MappingProxyType:
    return MappingProxyType(mapping)


# The truth keeps its landmarks in read-only mappings, which pickle does not know.
copyreg.pickle(MappingProxyType, lambda mapping: (_read_only, (dict(mapping),)))


def generator(*numbers: int) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(list(numbers)))


def random_leg(rng: np.random.Generator, bend: bool) -> phantom.LegShape:
    width = rng.uniform(0.85, 1.1)

    def shaft(sections):
        return tuple(
            phantom.ShaftSection(
                level=s.level,
                outer_mediolateral_mm=s.outer_mediolateral_mm * width,
                outer_anteroposterior_mm=s.outer_anteroposterior_mm * width,
                canal_mediolateral_mm=s.canal_mediolateral_mm * width * stretch,
                canal_anteroposterior_mm=s.canal_anteroposterior_mm * width * stretch,
            )
            for s in sections
        )

    stretch = rng.uniform(0.9, 1.15)
    plain = phantom.LegShape()
    deformities = ()
    if bend:
        size = rng.uniform(8.0, 20.0) * rng.choice([-1, 1])
        deformities = (phantom.Angulation(bone=Bone.TIBIA, level=rng.uniform(0.45, 0.65), varus_deg=size),)
    return phantom.LegShape(
        femur_length_mm=rng.uniform(390, 470),
        tibia_length_mm=rng.uniform(320, 400),
        mldfa_deg=rng.normal(88, 3),
        mpta_deg=rng.normal(87, 3),
        ldta_deg=rng.normal(89, 3),
        mlpfa_deg=rng.normal(90, 3),
        ppta_deg=rng.normal(81, 2),
        jlca_deg=rng.uniform(0, 2),
        femoral_bow_radius_mm=rng.uniform(850, 1500),
        head_radius_mm=rng.uniform(21, 26.5),
        # One number between head and flesh is unused; without it the legs of the published table change.
        soft_tissue=(rng.uniform(), rng.uniform(0.85, 1.25))[1],
        bone_width=width,
        femur_shaft=shaft(plain.femur_shaft),
        tibia_shaft=shaft(plain.tibia_shaft),
        deformities=deformities,
    )


def random_detector(rng: np.random.Generator) -> phantom.Detector:
    return phantom.Detector(
        photons_per_mm2=float(np.exp(rng.uniform(np.log(5e5), np.log(4e6)))),
        blur_mm=rng.uniform(0.07, 0.14),
        focal_spot_mm=rng.uniform(0.6, 1.2),
        scatter_fraction=rng.uniform(0.05, 0.15),
        heel_effect=rng.uniform(0.0, 0.12),
        curve_power=rng.uniform(0.75, 1.0),
    )


def _version() -> str:
    """Changes whenever the phantom or this file changes, so that no film of an older phantom is read."""
    own = Path(phantom.__file__).parent
    files = [Path(__file__), *sorted(own.rglob("*.py")), *sorted(own.rglob("*.csv"))]
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:12]


class FilmShelf:
    """Takes films; with a directory it keeps them there, so that a second run only reads them."""

    def __init__(self, directory: Path | None = None) -> None:
        self.directory = None if directory is None else directory / _version()
        if self.directory is not None:
            self.directory.mkdir(parents=True, exist_ok=True)

    def film(self, name: str, patient: phantom.PatientShape, **how) -> phantom.PhantomFilm:
        """The film of this name taken like this: from the shelf, or taken now."""
        if self.directory is None:
            return phantom.take_film(patient, **how)
        asked = hashlib.sha256(repr((patient, sorted(how.items()))).encode()).hexdigest()[:12]
        file = self.directory / f"{name}-{asked}.pickle"
        if file.exists():
            return pickle.loads(file.read_bytes())
        film = phantom.take_film(patient, **how)
        part = file.with_suffix(".part")
        part.write_bytes(pickle.dumps(film, protocol=5))
        part.rename(file)
        return film
