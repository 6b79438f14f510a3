"""A job is kept as a file and taken in again, by the pages: with its log and photos, and without its person."""

import io
import zipfile

import pytest
from stores import jpeg
from web_reader import Reader

from halfsplit.actions import get_person, job_view, list_open_jobs


@pytest.fixture
def opened(browser):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens",), name="the grey one", person="Ms Vale", phone="0123")
    return browser


def token(browser):
    return browser.page.all("input", name="token")[0].attrs["value"]


def sent(browser, content):
    """Send a file to be taken in."""
    browser.open("/new")
    files = {"job_file": ("job.zip", content, "application/zip")} if content is not None else {}
    return browser.client.post("/import", data={"token": token(browser)}, files=files)


def test_a_job_goes_out_as_a_file_and_comes_in_as_another_job_without_its_person(opened):
    opened.press("note it", words="seen: a plug half in")
    photo = {"photo": ("inside.jpg", jpeg(), "image/jpeg")}
    opened.client.post(f"/jobs/{opened.number}/photos", data={"token": token(opened)}, files=photo)
    page = opened.open(f"/jobs/{opened.number}")
    (link,) = [each for each in page.all("a") if each.text == "Job file"]
    answer = opened.client.get(link.attrs["href"])
    assert answer.headers["content-type"] == "application/zip"
    assert answer.headers["content-disposition"] == f'attachment; filename="job-{opened.number}.zip"'
    packed = zipfile.ZipFile(io.BytesIO(answer.content))
    assert all(b"Vale" not in packed.read(name) for name in packed.namelist())

    answer = sent(opened, answer.content)
    assert answer.status_code == 200
    number = int(answer.url.path.split("/")[2])
    bench = opened.desk.bench
    before, after = job_view(bench, 1), job_view(bench, number)
    assert number == 2
    assert after.row.name == "the grey one"
    assert [line.text for line in after.lines if line.kind == "note"] == [
        line.text for line in before.lines if line.kind == "note"
    ]
    assert [photo.hash for photo in after.photos] == [photo.hash for photo in before.photos]
    assert len(after.photos) == 1
    assert get_person(bench, 1) is not None
    assert get_person(bench, number) is None


@pytest.mark.parametrize(("content", "code"), [(b"no zip at all", "HS751"), (None, "HS805")])
def test_what_is_no_job_file_is_refused_and_no_job_is_opened(browser, content, code):
    answer = sent(browser, content)
    assert answer.status_code == 422
    assert code in Reader(answer.text.replace("<!doctype html>", "")).root.text
    assert list_open_jobs(browser.desk.bench) == ()
