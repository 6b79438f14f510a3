"""The drawings: whole, named, in their places, and readable without colour."""

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from folding import BOOK, job_of
from hypothesis import given, settings
from hypothesis import strategies as st
from markupsafe import Markup

from halfsplit.job.changes import Course
from halfsplit.job.grids import FAILED, NOT_TRIED, PASSED, Cell, Grid, memory_cells, output_cells
from halfsplit.job.trail import walk_job
from halfsplit.job.units import Gatherer, Pair, kind_of
from halfsplit.job.wanted import setup_wanted
from halfsplit.job.weigh import weigh_job
from halfsplit.job.weighed import NOT_REACHED, REACHED, STOPPED, UNKNOWN, PartSuspicion, RunColumn
from halfsplit.model.machine import HEAD_SQUARES, Setup
from halfsplit.web import drawings
from halfsplit.web.drawings import (
    density_of,
    ladder,
    machine_map,
    memory_grid,
    output_grid,
    suspicion_bar,
    target_setup,
)
from halfsplit.web.drawings.hatching import LEAST_P, Box, hatched
from halfsplit.web.drawings.joints import lines_of_joints
from halfsplit.web.drawings.lettering import LINE, lines_of, width_of
from halfsplit.web.drawings.plan import SQUARE, plan_of

TOP = Path(__file__).parents[2]
CSS = (TOP / "src" / "halfsplit" / "web" / "static" / "drawings.css").read_text(encoding="utf-8")
DOC = (TOP / "docs" / "web-drawings.md").read_text(encoding="utf-8")
FINGER = 48.0
"""The least width and height of what is tapped, in CSS pixels, on a phone 360 pixels wide (common practice)."""

RUNGS = tuple((rung.id, rung.title) for rung in BOOK.ladder.rungs)
MARKS = (REACHED, STOPPED, NOT_REACHED, UNKNOWN)
WHOLE = "{memory: [8, 8, 8, 8], drives: [m2, sata], card: {}, riser: {}, radio: {}, optical: {}}"


def course_of(*log: str, machine: str = WHOLE) -> Course:
    return walk_job(job_of(*log, machine=machine), BOOK)


def map_of(course: Course, *parts: PartSuspicion) -> ET.Element:
    drawn = machine_map(BOOK, course.intake["owner"], course.standing["owner"], parts, href=lambda slot: f"/at/{slot}")
    return read(drawn)


def read(drawn: Markup) -> ET.Element:
    return ET.fromstring(drawn.replace(' xmlns="http://www.w3.org/2000/svg"', ""))


def of_class(top: ET.Element, word: str) -> Iterator[ET.Element]:
    return (each for each in top.iter() if word in each.get("class", "").split())


def text_of(top: ET.Element) -> str:
    return " ".join("".join(top.itertext()).split())


def without_classes(drawn: Markup) -> str:
    """What is left of a drawing for those who see no colour and no stroke width."""
    return re.sub(r' (?:class|aria-label)="[^"]*"', "", drawn)


def block(top: ET.Element, slot: str) -> ET.Element:
    return next(each for each in of_class(top, "drawn-part") if each.get("href") == f"/at/{slot}")


def every_drawing() -> dict[str, Markup]:
    course = course_of(
        "run: {reached: processor_runs, not: memory_passes, output: card, picture: no, stop: stays}",
        "setup: {memory.2: out, supply: shelf.supply_a}",
        "run: {reached: log_in, stop: {resets: 6 min}, load: card, output: board, picture: yes}",
    )
    intake, now = course.intake["owner"], course.standing["owner"]
    parts = [PartSuspicion("owner.memory.2", "memory module no.\u00a02", 0.6), PartSuspicion("card_seat", "seat", 0.3)]
    runs = (RunColumn("run_1", ("cold",), (REACHED,) * 4 + (STOPPED,) + (NOT_REACHED,) * 5, "stays"),)
    return {
        "map": machine_map(BOOK, intake, now, parts, href=lambda slot: f"/at?slot={slot}&a=1"),
        "bare map": machine_map(BOOK, intake, now),
        "ladder": ladder(RUNGS, runs),
        "memory": memory_grid(memory_cells(course, BOOK)),
        "output": output_grid(output_cells(course, BOOK)),
        "target": target_setup(BOOK, *setup_wanted(BOOK.checks["minimum_parts"], course, BOOK)),
        "bar": suspicion_bar(0.6, 0.4, 0.8),
    }


@pytest.mark.parametrize("name", sorted(every_drawing()))
def test_a_drawing_is_well_formed_and_has_nothing_that_a_strict_page_refuses(name: str) -> None:
    top = read(every_drawing()[name])
    for each in top.iter():
        assert each.tag not in ("script", "style", "foreignObject", "image", "use")
        assert not {key for key in each.attrib if key in ("style", "id") or key.startswith("on")}


@pytest.mark.parametrize("name", sorted(every_drawing()))
def test_every_picture_has_a_name_or_is_left_out_for_those_who_do_not_see_it(name: str) -> None:
    top = read(every_drawing()[name])
    pictures = list(top.iter("svg"))
    assert pictures
    for picture in pictures:
        if picture.get("aria-hidden") != "true":
            title = picture.find("title")
            assert title is not None
            assert title.text == picture.get("aria-label")
            assert title.text


def test_text_from_outside_is_escaped() -> None:
    drawn = ladder([("a", "<b> & 'c'")], [RunColumn('"run"', ("<script>",), (REACHED,))])
    assert text_of(next(of_class(read(drawn), "head"))) == "<script>"
    assert "<script>" not in drawn


def test_the_style_sheet_loads_nothing_and_knows_dark_screens_and_paper() -> None:
    assert "url(" not in CSS
    assert "@import" not in CSS
    assert "prefers-color-scheme: dark" in CSS
    assert "@media print" in CSS


# The map


def test_every_part_of_the_book_has_a_block_and_none_overlap() -> None:
    """Counted square by square, apart from the check that the book makes."""
    assert set(BOOK.map) == set(BOOK.kinds)
    holders = {block.on for block in BOOK.map.values()} - {""}
    taken: dict[tuple[int, int], str] = {}
    for kind, place in BOOK.map.items():
        high = HEAD_SQUARES if kind in holders else place.h
        for x in range(place.x, place.x + place.w):
            for y in range(place.y, place.y + high):
                assert taken.setdefault((x, y), kind) == kind


def test_what_is_outside_is_drawn_outside_the_case() -> None:
    case = BOOK.map["case"]
    for kind, place in BOOK.map.items():
        if kind != "case":
            assert case.overlaps(place) is not BOOK.kinds[kind].outside


def test_every_label_fits_its_block_with_a_line_below_and_a_finger_fits_too() -> None:
    for place in BOOK.map.values():
        lines = lines_of(place.label, place.w * SQUARE - 6)
        assert all(width_of(line) <= place.w * SQUARE for line in lines), place
        assert (len(lines) + 1) * LINE <= place.h * SQUARE, place
        assert min(place.w, place.h) * SQUARE >= FINGER
    assert max(place.right for place in BOOK.map.values()) * SQUARE <= 360 - 2 * SQUARE


@settings(max_examples=60)
@given(st.sets(st.sampled_from(sorted(BOOK.kinds))), st.integers(1, 4), st.integers(1, 3))
def test_whatever_is_in_it_no_two_blocks_of_a_plan_overlap(kinds: set[str], modules: int, drives: int) -> None:
    many = {"memory": modules, "drive": drives, "fan": 3}
    slots = [f"{kind}.{n + 1}" if BOOK.kinds[kind].many else kind for kind in kinds for n in range(many.get(kind, 1))]
    plan = plan_of(slots, BOOK)
    assert set(plan.pieces) == set(slots)
    for one, other in combinations(plan.pieces.values(), 2):
        a, b = one.face, other.face
        assert a.right <= b.x or b.right <= a.x or a.bottom <= b.y or b.bottom <= a.y
    for piece in plan.pieces.values():
        assert piece.box.w > 0
        assert piece.box.h >= 3 * SQUARE
        assert piece.box.bottom <= plan.height
        assert piece.box.right <= plan.width


def test_words_on_narrow_blocks_are_broken_and_stay_inside() -> None:
    course = course_of(machine="{fan.1: yes, fan.2: yes, fan.3: yes, fan.4: yes}")
    top = map_of(course, *(PartSuspicion(f"owner.fan.{n}", "case fan", 0.2) for n in range(1, 5)))
    for n in range(1, 5):
        fan = block(top, f"fan.{n}")
        assert [text_of(each) for each in fan.iter("text")] == [str(n), "1 in", "5"]
        outline = next(of_class(fan, "outline"))
        left, wide = float(outline.get("x", 0)), float(outline.get("width", 0))
        top_edge, high = float(outline.get("y", 0)), float(outline.get("height", 0))
        for plate in of_class(fan, "plate"):
            assert left <= float(plate.get("x", 0))
            assert float(plate.get("x", 0)) + float(plate.get("width", 0)) <= left + wide
            assert top_edge <= float(plate.get("y", 0)) + 0.1
            assert float(plate.get("y", 0)) + float(plate.get("height", 0)) <= top_edge + high + 0.1


def test_rows_of_parts_that_are_not_there_take_no_room() -> None:
    slots = [kind for kind in BOOK.kinds if not BOOK.kinds[kind].many]
    row = {"riser", "add_on_card", "code_display", "speaker"}
    assert plan_of(slots, BOOK).height - plan_of([s for s in slots if s not in row], BOOK).height == 5 * SQUARE


def test_every_part_of_the_machine_is_a_link_with_its_name() -> None:
    course = course_of()
    top = map_of(course, PartSuspicion("owner.supply", "power supply", 0.63))
    assert {each.get("href") for each in of_class(top, "drawn-part")} == {
        f"/at/{slot}" for slot in course.intake["owner"].slots
    }
    for each in of_class(top, "drawn-part"):
        title = each.find("title")
        assert each.get("aria-label")
        assert title is not None
        assert title.text == each.get("aria-label")
    assert block(top, "supply").get("aria-label") == "power supply 2 in 3: power supply: about 2 in 3"
    assert block(top, "card").get("aria-label") == "graphics card"


def test_the_description_names_what_is_suspected_most() -> None:
    top = map_of(
        course_of("setup: {drive.2: out}"),
        PartSuspicion("owner.card", "graphics card", 0.2),
        PartSuspicion("owner.supply", "power supply", 0.63),
        PartSuspicion("owner.board", "main board", 0.001),
    )
    said = top.findtext("desc") or ""
    assert "Most suspected: power supply: about 2 in 3, graphics card: about 1 in 5." in said
    assert "Taken out: 1." in said
    assert "Nothing stands out." in (map_of(course_of(), PartSuspicion("x", "x", 0.0)).findtext("desc") or "")
    assert "Nothing stands out." not in (map_of(course_of()).findtext("desc") or "")


def test_what_was_taken_out_is_a_ghost_and_what_was_lent_has_a_tag() -> None:
    top = map_of(course_of("setup: {memory.2: out, supply: shelf.supply_a, speaker: shelf.speaker_bench}"))
    assert [each.get("href") for each in of_class(top, "ghost")] == ["/at/memory.2"]
    assert [text_of(each) for each in block(top, "memory.2").iter("text")] == ["2", "out"]
    assert "taken out" in (block(top, "memory.2").get("aria-label") or "")
    tags = {
        each.get("href"): text_of(next(of_class(each, "tag-letter")))
        for each in of_class(top, "drawn-part")
        if list(of_class(each, "tag-letter"))
    }
    assert tags == {"/at/supply": "S", "/at/speaker": "S"}
    assert BOOK.shelf["supply_a"].title in (block(top, "supply").get("aria-label") or "")


def test_a_new_part_and_one_of_the_bench_machine_have_tags_of_their_own() -> None:
    top = map_of(course_of("repair: {do: replace_supply}", "setup: {memory.1: bench.memory.1}"))
    letters = {slot: text_of(next(of_class(block(top, slot), "tag-letter"))) for slot in ("supply", "memory.1")}
    assert letters == {"supply": "N", "memory.1": "B"}


def test_the_legend_says_what_is_on_the_map_and_of_suspicion_only_where_that_is_asked() -> None:
    def legend_of(course: Course, parts: tuple[PartSuspicion, ...] | None) -> str:
        setups = course.intake["owner"], course.standing["owner"]
        return " ".join(map(text_of, of_class(read(machine_map(BOOK, *setups, parts)), "legend")))

    as_it_came, swapped = course_of(), course_of("setup: {memory.2: out, supply: shelf.supply_a}")
    assert legend_of(as_it_came, None) == ""
    assert legend_of(as_it_came, ()) == "bad: unlikelylikely"
    assert legend_of(swapped, None) == "Sshelfout"
    assert legend_of(swapped, ()) == "bad: unlikelylikelySshelfout"


def test_out_of_the_case_the_case_is_a_ghost() -> None:
    ghosts = {each.get("href") for each in of_class(map_of(course_of("setup: {case: out}")), "ghost")}
    assert ghosts == {"/at/case", "/at/front_panel", "/at/front_usb"}


def test_blocks_and_joints_are_hatched_by_their_own_suspicion() -> None:
    p = {
        "owner.supply": 0.9,
        "owner.memory.1": 0.3,
        "owner.memory.2": 0.05,
        "cpu_power_plug": 0.6,
        "memory_seat.2": 0.15,
    }
    top = map_of(course_of(), *(PartSuspicion(name, name, each) for name, each in p.items()))
    found = {
        slot: [each.get("class") for each in of_class(block(top, slot), "hatch")]
        for slot in ("supply", "memory.1", "memory.2", "card")
    }
    assert found == {
        "supply": ["hatch hatch-5"],
        "memory.1": ["hatch hatch-3"],
        "memory.2": ["hatch hatch-1"],
        "card": [],
    }
    suspected = {each.get("aria-label") for each in of_class(top, "suspected")}
    assert len(suspected) == 2
    assert {text.partition(":")[0] for text in suspected if text} == {
        BOOK.joints["cpu_power_plug"].title,
        f"{BOOK.joints['memory_seat'].title} no.\u00a02",
    }


def test_the_map_of_a_weighed_job_hatches_what_the_readings_say() -> None:
    job = job_of("inspect: {at: cpu_power_plug, seen: half_in}", "run: {not: processor_runs, stop: stays}")
    parts = weigh_job(job, BOOK).parts
    p = {each.id: each.p for each in parts}
    course = walk_job(job, BOOK)
    top = map_of(course, *parts)
    assert density_of(p["cpu_power_plug"]) >= 3
    assert density_of(p["owner.supply"]) >= 1
    drawn = {each.get("aria-label"): each for each in of_class(top, "suspected")}
    name = next(name for name in drawn if name and name.startswith(f"{BOOK.joints['cpu_power_plug'].title}:"))
    assert list(of_class(drawn[name], f"hatch-{density_of(p['cpu_power_plug'])}"))
    for slot, unit in course.standing["owner"].slots.items():
        marks = list(of_class(block(top, slot), "hatch"))
        assert len(marks) == (density_of(p.get(unit)) > 0), slot


def test_every_joint_between_two_parts_has_one_line_that_ends_at_their_blocks() -> None:
    setup = course_of("setup: {output: card}").standing["owner"]
    pairs = [each for each in Gatherer(BOOK, BOOK.joints).together(setup).footholds if isinstance(each, Pair)]
    plan = plan_of(setup.slots, BOOK)
    lines = lines_of_joints(pairs, plan, BOOK)
    assert {line.pair for line in lines} == set(pairs)
    marks = [line.points[0] for line in lines]
    assert len(set(marks)) == len(marks)
    for line in lines:
        boxes = [plan.pieces[slot].box for slot, _ in line.pair.ends]
        ends = (line.points[0], line.points[-1])
        for x, y in ends:
            assert any(box.x <= x <= box.right and box.y <= y <= box.bottom for box in boxes)
        assert all(any(box.x <= x <= box.right and box.y <= y <= box.bottom for x, y in ends) for box in boxes)


def test_a_book_without_a_map_has_no_drawing() -> None:
    setup = Setup("owner", {"supply": "owner.supply"})
    assert machine_map(replace(BOOK, map={}), setup, setup) == ""


# Hatching


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_suspicion_is_never_hatched_less(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert 0 <= density_of(low) <= density_of(high) <= 5


def segments(drawn: Markup) -> list[tuple[float, float, float, float]]:
    found = re.findall(r"M([\d.-]+) ([\d.-]+)L([\d.-]+) ([\d.-]+)", drawn)
    return [(float(x1), float(y1), float(x2), float(y2)) for x1, y1, x2, y2 in found]


def ink(box: Box, density: int) -> float:
    """The length of all lines for each square unit."""
    drawn = segments(hatched(box, density))
    return sum(abs(x2 - x1) * 2**0.5 for x1, _, x2, _ in drawn) / (box.w * box.h)


@pytest.mark.parametrize("box", [Box(0, 0, 48, 48), Box(204, 348, 120, 132), Box(24, 132, 60, 36)])
def test_each_density_has_clearly_more_ink_than_the_one_before(box: Box) -> None:
    inks = [ink(box, density) for density in range(6)]
    assert inks[0] == 0.0
    assert all(more >= 1.25 * less for less, more in pairwise(inks[1:]))
    assert len({density_of(least) for least in LEAST_P}) == 5


def test_hatching_stays_in_its_box() -> None:
    box = Box(30, 50, 61, 40)
    for density in range(1, 6):
        lines = segments(hatched(box, density))
        assert lines
        for x1, y1, x2, y2 in lines:
            for x, y in ((x1, y1), (x2, y2)):
                assert box.x - 0.06 <= x <= box.right + 0.06
                assert box.y - 0.06 <= y <= box.bottom + 0.06
            assert abs(x2 - x1) == pytest.approx(abs(y2 - y1), abs=0.2)


def test_hatchings_differ_without_their_colour() -> None:
    box = Box(0, 0, 48, 48)
    assert len({without_classes(hatched(box, density)) for density in range(6)}) == 6


# The bar


def test_the_bar_is_solid_to_the_low_end_and_hatched_to_the_high_one() -> None:
    top = read(suspicion_bar(0.5, 0.25, 0.75))
    solid, outline = next(of_class(top, "solid")), next(of_class(top, "outline"))
    frame = next(of_class(top, "frame"))
    whole = float(frame.get("width", 0))
    assert float(solid.get("width", 0)) / whole == pytest.approx(0.25, abs=0.002)
    assert float(outline.get("x", 0)) + float(outline.get("width", 0)) - 1 == pytest.approx(0.75 * whole, abs=0.2)
    assert float(next(of_class(top, "stroke")).get("x1", 0)) - 1 == pytest.approx(0.5 * whole, abs=0.2)
    assert top.get("aria-label") == "about 1 in 2, 1 in 4 to 3 in 4"


@pytest.mark.parametrize(("p", "words"), [(0.0, "ruled out"), (1.0, "certain"), (0.6, "about 2 in 3")])
def test_a_bar_without_a_range_has_no_hatching(p: float, words: str) -> None:
    top = read(suspicion_bar(p, p, p))
    assert list(of_class(top, "hatch")) == []
    assert top.get("aria-label") == words


# The ladder


def test_the_ladder_has_ten_rungs_and_a_column_for_each_run() -> None:
    runs = (
        RunColumn("run_1", ("cold",), (REACHED,) * 4 + (STOPPED,) + (NOT_REACHED,) * 5, "freezes", 5.0),
        RunColumn("run_2", (), (REACHED,) * 10, "resets", 360.0),
        RunColumn("run_3", ("3 of 5", "card"), (REACHED, *[UNKNOWN] * 9), "cuts_out"),
        RunColumn("run_4", (), (REACHED,) * 10, "none"),
    )
    rows = [[text_of(cell) for cell in row] for row in read(ladder(RUNGS, runs)).iter("tr")]
    assert rows[0] == ["Run", "run 1cold", "run 2", "run 33 of 5card", "run 4"]
    assert rows[1] == ["then", "", "resets 6 min", "", "stays up"]
    assert [row[0] for row in rows[2:]] == [title for _, title in reversed(RUNGS)]
    said = list(zip(*(row[1:] for row in reversed(rows[2:])), strict=True))
    assert said[0] == (*["reached"] * 4, "stopped before itfreezes 5 s", *["not reached"] * 5)
    assert said[1] == said[3] == ("reached",) * 10
    assert said[2] == ("reached", "not seen?cuts out", *["not seen?"] * 8)


def test_a_run_of_the_ladder_leads_where_it_is_told() -> None:
    runs = (RunColumn("run_1", (), (REACHED,) * 10), RunColumn("sag", (), (REACHED,) * 10))
    links = [(link.get("href"), text_of(link)) for link in read(ladder(RUNGS, runs, href="/log/{}".format)).iter("a")]
    assert links == [("/log/run_1", "run 1"), ("/log/sag", "sag")]
    assert not list(read(ladder(RUNGS, runs)).iter("a"))


def test_the_ladder_of_no_run_is_not_drawn() -> None:
    assert ladder(RUNGS, ()) == ""


def test_the_marks_of_the_ladder_differ_without_their_colour() -> None:
    top = read(ladder(RUNGS[:4], [RunColumn("run_1", (), MARKS)]))
    drawn = [ET.tostring(mark, encoding="unicode") for mark in of_class(top, "drawn-mark")][:4]
    shapes = [re.sub(r"<title>.*?</title>", "", without_classes(Markup(each))) for each in drawn]
    assert len(set(shapes)) == 4


def test_a_wide_ladder_scrolls_and_can_be_scrolled_by_keyboard_and_starts_at_its_last_runs() -> None:
    box = next(of_class(read(ladder(RUNGS, [RunColumn("run_1", (), (REACHED,) * 10)])), "ladder-scroll"))
    assert box.get("tabindex") == "0"
    assert box.get("aria-label") == "The ladder"
    rule = re.search(r"^\.ladder-scroll \{(.+?)\}", CSS, flags=re.MULTILINE | re.DOTALL)
    assert rule is not None
    assert "overflow-x: auto" in rule[1]
    assert "direction: rtl" in rule[1]


# The grids

CELLS = {
    ("one", "a"): Cell(PASSED, "run_1"),
    ("one", "b"): Cell(FAILED, "run_2"),
    ("two", "a"): Cell(FAILED, "run_3", with_others=True),
    ("two", "b"): Cell(),
}


@pytest.mark.parametrize("draw", [memory_grid, output_grid])
def test_a_grid_says_of_each_cell_what_the_runs_say(draw: type) -> None:
    top = read(draw(Grid((("one", "first"), ("two", "second")), (("a", "A"), ("b", "B")), CELLS)))
    rows = [[text_of(cell) for cell in row] for row in top.iter("tr")]
    assert rows[0][1:] == ["A", "B"]
    assert rows[1:] == [["first", "passedrun 1", "failedrun 2"], ["second", "failed, others inrun 3", "not tried"]]
    marks = {without_classes(Markup(ET.tostring(mark, encoding="unicode"))) for mark in of_class(top, "drawn-mark")}
    assert len(marks) == 4
    assert [each.get("scope") for each in top.iter("th")] == ["col", "col", "col", "row", "row"]


def test_a_grid_without_cells_is_not_drawn() -> None:
    assert memory_grid(Grid((), (("a", "A"),), {})) == ""
    assert Cell().state == NOT_TRIED


# The setup wanted


def test_what_differs_is_marked_and_listed_and_nothing_else() -> None:
    course = course_of("setup: {memory.2: out}", machine="{memory: [8, 8], drives: [m2], card: {}}")
    now = course.standing["owner"]
    slots = {slot: unit for slot, unit in now.slots.items() if kind_of(slot) != "drive"}
    wanted = replace(now, slots={**slots, "supply": "shelf.supply_a", "speaker": "shelf.speaker_bench"}, output="board")
    top = read(target_setup(BOOK, now, wanted))
    assert [text_of(each) for each in top.iter("li")] == [
        f"↔ change: power supply for {BOOK.shelf['supply_a'].title}",
        "− take out: drive no. 1",  # noqa: RUF001
        "+ put in: piezo speaker",
        f"↔ monitor on: {BOOK.outputs['board'].title}",
    ]
    as_it_is, target = top.iter("svg")
    assert target.get("aria-label") == "As it should be"
    heavy = {each.get("aria-label"): text_of(next(of_class(each, "tag-letter"))) for each in of_class(target, "heavy")}
    assert heavy == {
        f"{BOOK.shelf['supply_a'].title}; differs": "↔",
        "drive no.\u00a01: out; differs": "−",  # noqa: RUF001
        "piezo speaker; differs": "+",
    }
    assert len(list(of_class(as_it_is, "heavy"))) == 3
    assert list(of_class(as_it_is, "tag-letter")) == []
    assert [each.get("aria-label") for each in of_class(target, "ghost")] == ["drive no.\u00a01: out; differs"]


def test_a_board_out_of_its_case_is_said_and_drawn() -> None:
    now = course_of().standing["owner"]
    top = read(target_setup(BOOK, now, replace(now, in_case=False)))
    assert [text_of(each) for each in top.iter("li")] == ["− take the board out of its case"]  # noqa: RUF001
    assert "case: out; differs" in {each.get("aria-label") for each in of_class(top, "ghost")}


def test_nothing_is_drawn_where_nothing_differs() -> None:
    now = course_of().standing["owner"]
    assert target_setup(BOOK, now, now) == ""


# The document


@pytest.mark.parametrize("example", re.findall(r"^\| [^|`]+ \| `(.+?)` \|", DOC, flags=re.MULTILINE))
def test_every_example_of_the_document_draws_something(example: str) -> None:
    job = job_of("run: {not: processor_runs, stop: stays}")
    weighed = weigh_job(job, BOOK)
    names = {
        "book": BOOK,
        "course": walk_job(job, BOOK),
        "weighed": weighed,
        "fault": weighed.faults[0],
        "address_of": str,
        **{name: getattr(drawings, name) for name in drawings.__all__},
        **{each.__name__: each for each in (memory_cells, output_cells, setup_wanted)},
    }
    read(eval(example, names))  # our own document


def test_every_drawing_is_in_the_document() -> None:
    assert {name for name in drawings.__all__ if f"`{name}(" not in DOC} == {"density_of"}
