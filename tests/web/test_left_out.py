"""What the ranking leaves out because the machine does not get so far can be entered all the same."""

from halfsplit.actions import job_view


def proposals(browser):
    view = job_view(browser.desk.bench, browser.number)
    return {each.id for each in browser.desk.weigher.standing(view.on_file).advice.proposals}


def last_line(browser):
    return job_view(browser.desk.bench, browser.number).lines[-1].text


def test_what_a_dead_machine_cannot_show_is_left_out_and_can_be_entered(browser):
    browser.open("/new")
    browser.press("Open the job", ticked=("nothing happens", "built, no graphics card", "2 to 5 years"))
    browser.desk.weigher.work_off()
    browser.open(browser.address)
    browser.press("does not start")
    browser.desk.weigher.work_off()
    browser.open(browser.address)
    found = proposals(browser)
    assert "wall_watts" in found
    assert found.isdisjoint({"records", "settings_photo", "fan_speeds_read", "bench_stick"})
    # A card that was called before another tablet entered the start gives way to the best one.
    best = browser.card()
    browser.open(f"{browser.address}?do=records")
    assert browser.card() == best
    browser.follow("Seen by the way")
    browser.press("mixed crashes")
    assert "seen: mixed_crashes" in last_line(browser)
    field = next(
        each.all("input")[0].attrs["name"]
        for each in browser.page.all("div", class_="thing")
        if each.all("label") and each.all("label")[0].text.startswith("processor temperature on the setup page")
    )
    browser.press("Enter the numbers", **{field: "48"})
    assert "cpu_temp_idle" in last_line(browser)
    assert "48" in last_line(browser)
