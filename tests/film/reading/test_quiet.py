import logging
import warnings

import pytest

from limbwright.film.reading.quiet import heard


def test_warnings_and_log_lines_are_heard_once_and_go_nowhere_else(capfd, caplog):
    with heard() as remarks:
        warnings.warn("odd value", UserWarning, stacklevel=1)
        warnings.warn("odd value", UserWarning, stacklevel=1)
        logging.getLogger("pydicom").warning("odd %s", "length")
        logging.getLogger("tifffile").error("odd tag")
        logging.getLogger("PIL.TiffImagePlugin").warning("odd page")
    assert sorted(remarks) == ["odd length", "odd page", "odd tag", "odd value"]
    assert capfd.readouterr() == ("", "")
    assert caplog.records == []


def test_loggers_are_as_before_afterwards():
    logger = logging.getLogger("pydicom")
    before = (logger.propagate, list(logger.handlers))
    with pytest.raises(RuntimeError, match="inside"), heard():
        raise RuntimeError("inside")
    assert (logger.propagate, list(logger.handlers)) == before


def test_what_was_heard_reaches_the_reader():
    import film_files as files

    from limbwright.film.reading import read_facts

    read = read_facts(files.film(SpecificCharacterSet="nonsense"), name="film")
    assert "film-header-remark" in files.ids(read)
    assert "film-header-remark" not in files.ids(read_facts(files.film(), name="film"))
