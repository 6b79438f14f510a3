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
