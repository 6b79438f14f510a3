"""``halfsplit next`` and ``halfsplit plan``: what they print, and what programs get."""

import json
import re
from pathlib import Path

from spaced import spaced

from halfsplit.cli import main
from halfsplit.settings import Settings

CURRENCY = Settings().currency
"""What a bench reckons in that has set nothing."""

EXAMPLES = Path(__file__).parents[1] / "examples"
STORM = EXAMPLES / "dead_after_storm.yaml"
KEYS = {"id", "kind", "title", "cost", "total", "value", "minutes", "risk", "price", "muddles", "stop_points"}


def without_currency(said):
    """Return the sums without their currency; a sum stands behind one of these words."""
    sums = re.findall(r"(?:costs|costs about|To go about|spent about|is worth|cost) (\d\S*)(\s\w+)?", spaced(said))
    assert sums
    return [number for number, word in sums if word.strip() != CURRENCY]


def test_next_as_json_has_what_programs_need(capsys):
    assert main(["next", str(STORM), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["top"] in [each["id"] for each in said["advice"]]
    assert {"advice", "stop_points", "step_back", "doubts", "alone", "to_go", "spent", "worth"} <= said.keys()
    for each in said["advice"]:
        assert each.keys() >= KEYS
        assert each["cost"] >= 0.0
        assert each["value"] >= 0.0
        assert {"hands_on", "place", "days"} == each["minutes"].keys()


def test_next_prints_one_card_and_its_reasons(capsys):
    assert main(["next", str(STORM)]) == 0
    said = capsys.readouterr().out
    assert "Next: " in said
    assert "Why" in said
    assert "What else could be done" in said
    assert "until the machine is proven or handed back" in " ".join(spaced(said).replace("│", " ").split())
    assert without_currency(said) == []


MODULES = """
machine: {kind: built, age_years: 6, card: none, memory: MEMORY}
complaint: lights_no_picture
log:
  - run: {not: self_test, signs: {fans_turn: yes}}
"""


def test_a_part_has_its_number_where_there_are_several_of_its_kind(capsys, tmp_path):
    path, numbered = tmp_path / "job.yaml", []
    for memory in ("[8]", "[8, 8]"):
        path.write_text(MODULES.replace("MEMORY", memory))
        assert main(["next", str(path)]) == 0
        said = " ".join(capsys.readouterr().out.replace("│", " ").split())
        assert "memory module" in said
        numbered.append("no. 1" in said)
    assert numbered == [False, True]


def test_plan_prints_a_tree(capsys):
    assert main(["plan", str(STORM)]) == 0
    said = capsys.readouterr().out
    assert "Chances are from the top" in said
    sums = re.findall(r"\((?:.*), (\S+ ?\S*)\)", spaced(said))
    assert sums
    assert all(each.endswith(f" {CURRENCY}") for each in sums)


def test_a_job_file_with_a_mistake_is_refused(capsys, tmp_path):
    path = tmp_path / "job.yaml"
    path.write_text("machine: {kind: spaceship}\n")
    for command in ("next", "plan"):
        assert main([command, str(path)]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert said.err.startswith("HS1")
