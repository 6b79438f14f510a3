"""A bench's own book laid over another one."""

from pathlib import Path

from halfsplit.book import Change, list_changes, load_book
from halfsplit.model.book import Book

BOOKS = Path(__file__).parents[1] / "books" / "good"
GOOD, OWN = BOOKS / "three_parts", BOOKS / "own_bench"


def laid_over(text: str, tmp_path: Path) -> Book:
    folder = tmp_path / "own"
    folder.mkdir()
    (folder / "own.yaml").write_text(text, encoding="utf-8")
    book, mistakes = load_book(GOOD, folder, cache=False)
    assert mistakes == ()
    assert book is not None
    return book


def test_what_a_layer_does_can_be_listed() -> None:
    assert list_changes(GOOD) == ()
    assert set(list_changes(GOOD, OWN)) == {
        Change("own_bench/ours.yaml:6:3", "faults", "supply_no_standby", "changed", ("base",)),
        Change("own_bench/ours.yaml:7:3", "faults", "video_plug_bent", "added"),
        Change("own_bench/ours.yaml:17:3", "repairs", "straighten_video_pin", "added"),
        Change("own_bench/ours.yaml:26:3", "events", "storm", "retired"),
    }


def test_an_entry_laid_over_changes_only_the_fields_that_it_names(tmp_path: Path) -> None:
    below, _ = load_book(GOOD, cache=False)
    book = laid_over("tools: {torch: {title: head lamp}}\n", tmp_path)
    assert below is not None
    assert book.tools["torch"].title == "head lamp"
    assert book.tools["torch"].reach == below.tools["torch"].reach
    assert book.faults == below.faults


def test_a_number_rests_on_what_its_own_file_says(tmp_path: Path) -> None:
    text = "basis: common practice\nspread: 0.2\nfaults: {supply_no_standby: {base: 0.03}}\n"
    fault = laid_over(text, tmp_path).faults["supply_no_standby"]
    assert (fault.base.basis, fault.base.spread) == ("common practice", 0.2)
    assert (fault.after["storm"].basis, fault.after["storm"].spread) == ("estimate", 0.7)


def test_a_strength_word_can_be_moved_for_the_whole_book(tmp_path: Path) -> None:
    text = "strengths: {often: {p: 0.5, spread: 0.3, basis: estimate}}\n"
    fault = laid_over(text, tmp_path).faults["main_power_plug_loose"]
    assert (fault.patterns[0].acts[0].q.p, fault.patterns[0].acts[0].q.word) == (0.5, "often")


def test_what_is_retired_is_left_out_of_every_list(tmp_path: Path) -> None:
    book = laid_over("events: {storm: {retire: yes}}\ntools: {torch: {retire: yes}}\n", tmp_path)
    assert "storm" not in book.events
    assert "storm" not in book.faults["board_dead"].after
    assert book.checks["ask_before"].asks == ("worked_on",)
    assert book.checks["plugs_look"].tools == ()


def test_a_retired_fault_is_gone_and_the_others_stay(tmp_path: Path) -> None:
    below, _ = load_book(GOOD, cache=False)
    assert below is not None
    book = laid_over("faults: {supply_normal_click: {retire: yes}}\n", tmp_path)
    assert set(below.faults) - set(book.faults) == {"supply_normal_click"}


def test_retire_no_keeps_an_entry(tmp_path: Path) -> None:
    assert "torch" in laid_over("tools: {torch: {retire: no}}\n", tmp_path).tools


def test_a_third_layer_may_bring_a_retired_id_back(tmp_path: Path) -> None:
    texts = (
        "tools: {torch: {retire: yes}}\n",
        "tools: {torch: {title: head lamp, reach: {p: 0.9, spread: 0.3, basis: estimate}}}\n",
    )
    folders = []
    for number, text in enumerate(texts):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "own.yaml").write_text(text, encoding="utf-8")
        folders.append(folder)
    book, mistakes = load_book(GOOD, *folders, cache=False)
    assert mistakes == ()
    assert book is not None
    assert book.tools["torch"].title == "head lamp"


def test_folders_of_one_name_are_told_apart(tmp_path: Path) -> None:
    folder = tmp_path / "three_parts"
    folder.mkdir()
    (folder / "bench.yaml").write_text("tools: {lamp: {}}\n", encoding="utf-8")
    _, mistakes = load_book(GOOD, folder, cache=False)
    assert {mistake.place for mistake in mistakes} == {f"{folder}/bench.yaml:1:9"}
