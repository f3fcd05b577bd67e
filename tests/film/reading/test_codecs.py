import builtins
import importlib

import film_files as files
import pytest

from limbwright.error import Missing
from limbwright.film.reading import read_picture


@pytest.mark.parametrize(
    ("syntax", "module", "package", "words"),
    [
        (files.RLELossless, "imagecodecs", "imagecodecs", "RLE Lossless"),
        (files.JPEGLosslessSV1, "imagecodecs", "imagecodecs", "JPEG Lossless"),
        (files.JPEGLSLossless, "jpeg_ls", "pyjpegls", "JPEG-LS Lossless"),
        (files.JPEG2000Lossless, "openjpeg", "pylibjpeg-openjpeg", "JPEG 2000"),
    ],
)
def test_a_missing_codec_is_named_with_the_transfer_syntax(monkeypatch, syntax, module, package, words):
    content = files.film(syntax=syntax)
    genuine = importlib.import_module

    def without(name, *more):
        if name == module:
            raise ImportError(name)
        return genuine(name, *more)

    monkeypatch.setattr(importlib, "import_module", without)
    with pytest.raises(Missing, match=words) as caught:
        read_picture(content, name="knee film")
    assert syntax in caught.value.found
    assert f"'{package}'" in caught.value.next_step
    assert caught.value.where == "knee film"


def test_gdcm_and_pylibjpeg_rle_are_never_loaded(monkeypatch):
    genuine = builtins.__import__

    def watched(name, *more, **others):
        assert name.split(".")[0] not in ("gdcm", "rle"), f"{name} ends the process on damaged input"
        return genuine(name, *more, **others)

    contents = [files.film(syntax=syntax) for syntax in files.PACKED]
    monkeypatch.setattr(builtins, "__import__", watched)
    for content in contents:
        assert read_picture(content, name="film").picture.rows == 48
