"""The fault book in the browser: all of it is there, and what its numbers rest on."""

from folding import BOOK

from halfsplit.book import list_entries, list_sources, shipped_book_dir


def test_the_book_leads_to_every_entry_and_one_of_each_section_can_be_opened(browser):
    page = browser.open("/book")
    ways = {link.attrs.get("href") for link in page.all("a")}
    for section, entries in list_entries(BOOK).items():
        assert {f"/book/{section}/{name}" for name in entries} <= ways
        assert f"({len(entries)})" in page.text
    for section, entries in list_entries(BOOK).items():
        name, title = next(iter(entries.items()))
        entry = browser.open(f"/book/{section}/{name}")
        assert title in entry.text
        assert entry.all("h2")


def test_a_published_source_is_cited_in_full_where_a_number_rests_on_it(browser, desk):
    resting = next(number for number in desk.numbers if number.basis.startswith("source: "))
    section, name = resting.field.split(".")[:2]
    citation = list_sources([shipped_book_dir()])[resting.basis.removeprefix("source: ")]
    assert citation in browser.open(f"/book/{section}/{name}").text


def test_a_page_of_the_book_says_titles_and_has_the_ids_and_the_paths_of_numbers_as_small_print(browser):
    page = browser.open("/book/faults/board_dead")
    (link,) = [each for each in page.all("a") if each.attrs.get("href") == "/book/checks/minimum_parts"]
    assert link.text.startswith(BOOK.checks["minimum_parts"].title)
    small = {each.text for each in page.all("small")}
    assert {"minimum_parts", "faults.board_dead.after.smoke"} <= small
    rows = [each.text for each in page.all("th")]
    assert any(row.startswith("added after 'smoke seen'") for row in rows)
    assert not [row for row in rows if row.startswith("faults.")]
