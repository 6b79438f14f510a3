"""The code of templates is kept in the user's cache folder; pages are the same where that cannot be."""

import pytest

from halfsplit.web import screen


@pytest.fixture
def laid_out(monkeypatch, tmp_path):
    """What lays out a template by an environment of its own, as a program that was just started does."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def lay_out():
        screen._environment.cache_clear()
        return str(screen._environment().get_template("job_lines.html").module.find_field("tower"))

    yield lay_out
    screen._environment.cache_clear()


def kept(tmp_path):
    return sorted((tmp_path / "cache" / "halfsplit" / "templates").iterdir())


def test_a_template_is_made_into_code_once(laid_out, tmp_path, monkeypatch):
    first = laid_out()
    assert 'value="tower"' in first
    (file,) = kept(tmp_path)
    assert file.stat().st_size > 0
    monkeypatch.setattr("jinja2.Environment.compile", None)  # it is not made again
    assert laid_out() == first


@pytest.mark.parametrize("content", [b"", b"no code at all", None])
def test_what_is_kept_and_cannot_be_read_is_made_anew(laid_out, tmp_path, content):
    first = laid_out()
    (file,) = kept(tmp_path)
    file.write_bytes(file.read_bytes()[:-20] if content is None else content)
    assert laid_out() == first


def test_without_a_folder_that_can_be_written_pages_are_laid_out_all_the_same(laid_out, tmp_path):
    (tmp_path / "cache").write_text("a file where the folder should be")
    first = laid_out()
    assert 'value="tower"' in first
    (tmp_path / "cache").unlink()
    folder = tmp_path / "cache" / "halfsplit" / "templates"
    folder.parent.mkdir(parents=True)
    assert laid_out() == first
    for each in folder.iterdir():
        each.unlink()
    folder.rmdir()  # gone while the program runs
    assert screen._environment().get_template("scan_field.html").module.scan_field
    assert not folder.exists()
