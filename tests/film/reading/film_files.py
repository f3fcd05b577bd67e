"""Small invented film files for tests: every encoding, made in memory."""

import importlib
import io
import warnings
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.encaps import encapsulate
from pydicom.filewriter import dcmwrite
from pydicom.uid import (
    DeflatedExplicitVRLittleEndian,
    ExplicitVRBigEndian,
    ExplicitVRLittleEndian,
    ImplicitVRLittleEndian,
    JPEG2000Lossless,
    JPEGBaseline8Bit,
    JPEGLosslessSV1,
    JPEGLSLossless,
    RLELossless,
)

NATIVE = (
    ImplicitVRLittleEndian,
    ExplicitVRLittleEndian,
    ExplicitVRBigEndian,
    DeflatedExplicitVRLittleEndian,
)
PACKED = (RLELossless, JPEGLSLossless, JPEG2000Lossless, JPEGLosslessSV1)


def shaft(rows: int = 48, columns: int = 40, bits: int = 12, *, signed: bool = False) -> NDArray[Any]:
    """A bright bone on a darker background with some texture, using nearly all of the depth."""
    rng = np.random.Generator(np.random.PCG64(7))
    across = np.linspace(-1, 1, columns)[None, :]
    bone = np.exp(-((across / 0.35) ** 2)) * (1 - 0.3 * np.linspace(0, 1, rows)[:, None])
    top = (1 << bits) - 1
    values = (0.05 + 0.85 * bone) * top + rng.normal(0, top * 0.01, (rows, columns))
    values = np.clip(np.rint(values), 0, top).astype(np.int64)
    if signed:
        return (values - (1 << (bits - 1))).astype(np.int16 if bits > 8 else np.int8)
    return values.astype(np.uint16 if bits > 8 else np.uint8)


def dataset(values: NDArray[Any], bits: int = 12, **elements: Any) -> Dataset:
    """A DX header around values; `elements` are set afterwards, None removes one."""
    ds = Dataset()
    ds.SOPClassUID = "1.2.840.10008.5.1.4.1.1.1.1"
    ds.SOPInstanceUID = "1.2.826.0.1.3680043.8.498.1"
    ds.Modality = "DX"
    ds.StudyDate = "20260312"
    ds.PatientName = "Invented^Person"
    ds.PatientID = "INVENTED-1"
    ds.PatientSex = "F"
    ds.PatientBirthDate = "20120229"
    ds.SamplesPerPixel = 1
    ds.PhotometricInterpretation = "MONOCHROME2"
    ds.Rows, ds.Columns = values.shape[:2]
    ds.BitsAllocated = values.dtype.itemsize * 8
    ds.BitsStored = bits
    ds.HighBit = bits - 1
    ds.PixelRepresentation = int(values.dtype.kind == "i")
    ds.PixelData = values.tobytes() + b"\0" * (values.nbytes % 2)
    ds["PixelData"].VR = "OB" if values.dtype.itemsize == 1 else "OW"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # wrong values are set on purpose
        for keyword, value in elements.items():
            if value is None:
                delattr(ds, keyword)
            else:
                setattr(ds, keyword, value)
    return ds


def written(ds: Dataset, syntax: str = ExplicitVRLittleEndian) -> bytes:
    """Bytes of a DICOM file; native pixel bytes are swapped for big endian, packed ones made by a codec."""
    ds.file_meta = FileMetaDataset()
    ds.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
    ds.file_meta.MediaStorageSOPClassUID = ds.SOPClassUID
    ds.file_meta.MediaStorageSOPInstanceUID = ds.SOPInstanceUID
    if syntax in (RLELossless, JPEGLSLossless, JPEG2000Lossless):
        ds.compress(syntax, generate_instance_uid=False)
    elif syntax == JPEGLosslessSV1:
        packed(ds, syntax, _jpeg_lossless(ds))
    ds.file_meta.TransferSyntaxUID = syntax
    little = syntax != ExplicitVRBigEndian
    if not little and ds.BitsAllocated == 16:
        ds.PixelData = np.frombuffer(ds.PixelData, dtype="<u2").astype(">u2").tobytes()
    return _bytes(ds)


def packed(ds: Dataset, syntax: str, frame: bytes) -> Dataset:
    """The data set with its pixel data replaced by one packed frame."""
    ds.PixelData = encapsulate([frame])
    ds["PixelData"].VR = "OB"
    ds["PixelData"].is_undefined_length = True
    ds.file_meta.TransferSyntaxUID = syntax
    return ds


def film(values: NDArray[Any] | None = None, syntax: str = ExplicitVRLittleEndian, **more: Any) -> bytes:
    """Bytes of a DICOM film; `bits` and header elements by keyword."""
    values = shaft() if values is None else values
    return written(dataset(values, **more), syntax)


def jpeg_film(values: NDArray[Any] | None = None, **more: Any) -> bytes:
    """A DICOM film packed as baseline JPEG."""
    values = shaft(bits=8) if values is None else values
    ds = dataset(values, bits=8, **more)
    ds.file_meta = FileMetaDataset()
    return _meta_written(packed(ds, JPEGBaseline8Bit, picture_file(values, "JPEG", quality=95)))


def _meta_written(ds: Dataset) -> bytes:
    syntax = ds.file_meta.TransferSyntaxUID
    ds.file_meta.MediaStorageSOPClassUID = ds.SOPClassUID
    ds.file_meta.MediaStorageSOPInstanceUID = ds.SOPInstanceUID
    ds.file_meta.TransferSyntaxUID = syntax
    return _bytes(ds)


def _bytes(ds: Dataset) -> bytes:
    out = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        dcmwrite(out, ds, enforce_file_format=True)
    return out.getvalue()


def _jpeg_lossless(ds: Dataset) -> bytes:
    dtype = "<u2" if ds.BitsAllocated == 16 else "u1"
    values = np.frombuffer(ds.PixelData, dtype=dtype, count=ds.Rows * ds.Columns)
    values = values.reshape(ds.Rows, ds.Columns) & ((1 << ds.BitsStored) - 1)
    imagecodecs = importlib.import_module("imagecodecs")
    return imagecodecs.ljpeg_encode(values, bitspersample=ds.BitsStored)


def picture_file(values: NDArray[Any], kind: str, **options: Any) -> bytes:
    """Bytes of a PNG, JPEG or TIFF file."""
    out = io.BytesIO()
    Image.fromarray(values).save(out, kind, **options)
    return out.getvalue()


def tiff_file(values: NDArray[Any], **options: Any) -> bytes:
    """Bytes of a TIFF file written by tifffile."""
    tifffile = importlib.import_module("tifffile")
    out = io.BytesIO()
    tifffile.imwrite(out, values, **options)
    return out.getvalue()


def deflated(plain: bytes) -> bytes:
    """Raw deflate, as a deflated DICOM data set is packed."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    return packer.compress(plain) + packer.flush()


def ids(read: Any) -> set[str]:
    """Finding ids of a reading."""
    return {finding.id for finding in read.findings}
