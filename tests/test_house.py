"""The documents, the locks and the tracked files agree with the code."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
LOCKS = ("requirements.lock", "requirements-dev.lock")
# Written so that the patterns do not match themselves.
MACHINE_PATH = re.compile(r"(?<![\w.])/(?:work|root|home/\w+|Users/\w+|tmp/\w+)/")
DOWNLOAD_ADDRESS = re.compile(r"https?://\S+\.(?:whl|zip|tgz|tar\.\w+)\b")


def read(name: str) -> str:
    return (TOP / name).read_text(encoding="utf-8")


def tracked_texts() -> dict[str, str]:
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=TOP, capture_output=True, check=True)
    paths = {name: TOP / name for name in listed.stdout.decode().split("\0") if name}
    return {name: path.read_text(encoding="utf-8", errors="replace") for name, path in paths.items() if path.is_file()}


def package_name(requirement: str) -> str:
    found = re.match(r"[\w.-]+", requirement)
    assert found is not None
    return re.sub(r"[-_.]+", "-", found[0]).lower()


def pins(lock: str) -> set[str]:
    """The pinned releases in a lock, each with its marker: ``numpy==2.4.6 ; python...``."""
    return {line.rstrip(" \\") for line in read(lock).splitlines() if re.match(r"\w", line)}


def shell_lines(document: str) -> list[str]:
    """The commands in the ``sh`` code blocks of a document."""
    blocks = re.findall(r"^```sh\n(.*?)^```", read(document), flags=re.DOTALL | re.MULTILINE)
    return [line for block in blocks for line in block.splitlines() if line]


def test_every_error_code_in_the_code_is_documented_and_no_other():
    used = {
        code
        for source in (TOP / "src").rglob("*.py")
        for code in re.findall(r"\"(HS\d{3})\"", source.read_text(encoding="utf-8"))
    }
    rows = re.findall(r"^\| (HS\d{3}) \| .+ \| .+ \|$", read("docs/errors.md"), flags=re.MULTILINE)
    assert rows == sorted(used)


def test_no_tracked_file_holds_a_path_of_a_machine():
    found = [
        f"{name}:{number}"
        for name, text in tracked_texts().items()
        for number, line in enumerate(text.splitlines(), 1)
        if MACHINE_PATH.search(line)
    ]
    assert found == []


def test_no_tracked_file_holds_a_download_address():
    found = [
        name
        for name, text in tracked_texts().items()
        if DOWNLOAD_ADDRESS.search(text) or (name.endswith(".lock") and "://" in text)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("lock", "groups"), [("requirements.lock", ["build"]), ("requirements-dev.lock", ["build", "dev"])]
)
def test_a_lock_pins_everything_the_project_asks_for(lock, groups):
    project = tomllib.loads(read("pyproject.toml"))
    asked = [
        *project["project"]["dependencies"],
        *(entry for group in groups for entry in project["dependency-groups"][group] if isinstance(entry, str)),
    ]
    assert {package_name(entry) for entry in asked} <= {package_name(pin) for pin in pins(lock)}


def test_the_dev_lock_holds_all_of_the_run_lock():
    releases = {lock: {pin.partition(" ;")[0] for pin in pins(lock)} for lock in LOCKS}  # its markers may be wider
    assert releases["requirements.lock"] <= releases["requirements-dev.lock"]


def test_readme_names_only_verbs_that_dev_has():
    verbs = set(re.findall(r"^(\w+)\) ", read("dev"), flags=re.MULTILINE))
    named = {line.split()[1] for line in shell_lines("README.md") if line.startswith("./dev ")}
    assert named == verbs


def test_the_pages_come_up_without_what_ranks():
    said = "import sys, halfsplit.web; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True).stdout.split()
    rooms = {name.split(".")[1] for name in loaded if name.startswith("halfsplit.")}
    assert {"web", "job", "ranking"} <= rooms
    assert not rooms & {"infer", "plan", "simulate"}
    assert "numpy" not in loaded
