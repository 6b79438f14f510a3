"""Common wordings of owners find what they mean among the first three offers (common practice, no source)."""

import pytest

from halfsplit.book import find_offers, shipped_book
from halfsplit.book.stems import stems_of

SHIPPED = shipped_book()

WORDINGS = [
    # complaints
    ("won't turn on", "nothing_happens"),
    ("It's completely dead.", "nothing_happens"),
    ("nothing happens when I press the button", "nothing_happens"),
    ("my computer does not power up at all", "nothing_happens"),
    ("it doesn't start any more", "nothing_happens"),
    ("no life in it whatsoever", "nothing_happens"),
    ("black screen", "lights_no_picture"),
    ("the fans spin but there is no picture", "lights_no_picture"),
    ("monitor says no signal", "lights_no_picture"),
    ("lights come on but the screen stays dark", "lights_no_picture"),
    ("gets stuck on the logo", "picture_then_stops"),
    ("it won't boot into the system", "picture_then_stops"),
    ("stuck in a boot loop", "picture_then_stops"),
    ("crashes when I play games", "starts_misbehaves"),
    ("my PC keeps crashing", "starts_misbehaves"),
    ("it has become terribly slow", "slow_noisy_other"),
    # stops
    ("keeps restarting", "resets"),
    ("reboots on its own in the middle of a game", "resets"),
    ("it suddenly shuts down", "cuts_out"),
    ("switches itself off after ten minutes", "cuts_out"),
    ("just turns off", "cuts_out"),
    ("the power goes out", "cuts_out"),
    ("it freezes and the mouse won't move", "freezes"),
    ("everything hangs", "freezes"),
    ("locks up completely", "freezes"),
    ("stays there forever", "stays"),
    # signs
    ("smells hot", "burnt_smell"),
    ("there is a burning smell", "burnt_smell"),
    ("smoke came out of the back", "smoke_seen"),
    ("it clicks", "supply_clicks"),
    ("there's a clicking noise from the hard drive", "drive_clicks"),
    ("I get a blue screen", "error_screen"),
    ("lines and coloured blocks on the screen", "artefacts"),
    ("the screen flickers", "picture_flickers"),
    ("the fans are really loud", "fans_full"),
    ("sounds like a jet engine", "fans_full"),
    ("something rattles inside", "fan_rattles"),
    ("it beeps three times", "other_beeps"),
    ("long beep, then nothing", "memory_complaint"),
    ("no bootable device found", "no_boot_drive_message"),
    ("it says press F1", "waits_for_key"),
    ("the clock is always wrong", "clock_wrong"),
    ("no sound from the speakers", "sound_dead"),
    ("no internet since Monday", "network_dead"),
    ("wifi keeps dropping", "radio_dead"),
    ("USB stick isn't recognised", "usb_dead"),
    ("the keyboard does nothing", "keys_dead"),
    ("will not wake up from sleep", "sleep_no_wake"),
    ("turns on by itself at night", "wakes_by_itself"),
    ("starts and stops over and over", "start_loop"),
    ("goes on and straight off again", "start_loop"),
    ("I have to press the button several times", "comes_up_after_tries"),
    ("only starts after I unplug it", "needs_lead_out"),
    ("it won't shut down", "will_not_switch_off"),
    ("adverts keep popping up", "pop_ups"),
    ("wants a recovery key", "recovery_key_asked"),
    ("gives me an electric shock", "tingle"),
    ("takes ages to start up", "slow_start"),
    ("the picture goes black but I still hear the music", "picture_lost_alive"),
    ("high-pitched whistling in games", "coil_whine"),
    ("gurgling sound", "pump_gurgles"),
    ("my files have disappeared", "files_damaged"),
    # events
    ("since we moved", "moved_house"),
    ("there was a power cut", "power_cut"),
    ("after the thunderstorm", "storm"),
    ("after the last update", "system_update"),
    ("my son spilled juice on it", "spill"),
    ("I dropped it", "knocked"),
    ("I cleaned the dust out", "cleaned_inside"),
    ("I put in more RAM", "new_memory"),
    ("I installed a new graphics card", "new_card"),
    ("I built it last week", "newly_built"),
    ("changed settings in the BIOS", "settings_changed"),
    ("I overclocked the CPU", "tuned"),
    ("bought it second-hand", "bought_used"),
    ("hasn't been used for a year", "long_unused"),
    ("there was a loud bang", "bang"),
    ("the breaker tripped", "breaker_tripped"),
    ("a friend had a look inside", "opened_by_shop"),
    ("the cat knocked it over", "child_or_pet"),
    ("I updated the graphics driver", "driver_update"),
    ("the BIOS was flashed", "firmware_update"),
    # told in other words
    ("dead after a lightning strike", "storm"),
    ("pressing the power button does nothing", "nothing_happens"),
    ("the button doesn't react", "nothing_happens"),
    ("screen is blank but fans are running", "lights_no_picture"),
    ("no display", "lights_no_picture"),
    ("it lights up but shows no image", "lights_no_picture"),
    ("can't get past the BIOS screen", "picture_then_stops"),
    ("hangs while loading", "picture_then_stops"),
    ("crashes during video editing", "starts_misbehaves"),
    ("shuts off under load", "cuts_out"),
    ("turned itself off twice today", "cuts_out"),
    ("goes off when I start a game", "cuts_out"),
    ("random restarts", "resets"),
    ("restarts out of nowhere", "resets"),
    ("mouse and keyboard freeze", "freezes"),
    ("becomes unresponsive", "freezes"),
    ("cursor stands still", "freezes"),
    ("stop error with a code", "error_screen"),
    ("display flashes on and off", "picture_flickers"),
    ("scraping noise", "fan_rattles"),
    ("there is no audio", "sound_dead"),
    ("can't get online", "network_dead"),
    ("the wifi is gone", "radio_dead"),
    ("mouse not detected on the front port", "usb_dead"),
    ("popups everywhere", "pop_ups"),
    ("asked for the encryption key", "recovery_key_asked"),
    ("takes forever to boot", "slow_start"),
    ("upgraded the memory yesterday", "new_memory"),
    ("replaced the graphics card", "new_card"),
    ("swapped the power supply", "new_supply"),
    ("it was knocked off the table", "knocked"),
    ("the electricity went off", "power_cut"),
    ("hoovered the inside", "cleaned_inside"),
    ("just assembled it", "newly_built"),
    ("stood in the attic for years", "long_unused"),
    ("it never reaches the desktop", "picture_then_stops"),
    ("lags a lot", "slow"),
    ("sparks came out", "spark_seen"),
    ("the fan makes a clicking sound", "fan_rattles"),
    ("asks for a password I don't know", "log_in_refused"),
    ("the colours are all wrong", "artefacts"),
    ("I tripped over the cable", "knocked"),
    ("plugged in a new USB hub", "new_usb_device"),
]


@pytest.mark.parametrize(("words", "expected"), WORDINGS)
def test_what_owners_say_is_among_the_first_three_offers(words, expected):
    assert expected in [offer.id for offer in find_offers(words, SHIPPED)[:3]]


def test_an_offer_names_the_phrase_that_fits():
    offer = find_offers("we moved house last month", SHIPPED)[0]
    assert (offer.kind, offer.id) == ("event", "moved_house")
    assert offer.phrase in (*SHIPPED.events["moved_house"].words, SHIPPED.events["moved_house"].title)


def test_two_things_in_one_sentence_are_both_found():
    found = {offer.id for offer in find_offers("black screen since we moved", SHIPPED)[:4]}
    assert {"moved_house", "lights_no_picture"} <= found


def test_every_phrase_of_the_book_finds_its_own_entry():
    for kind, section in (
        ("event", SHIPPED.events),
        ("sign", SHIPPED.signs),
        ("stop", SHIPPED.stops),
        ("complaint", SHIPPED.complaints),
    ):
        for noun in section.values():
            for phrase in noun.words:
                offers = find_offers(phrase, SHIPPED, most=5)
                assert (kind, noun.id) in [(offer.kind, offer.id) for offer in offers], phrase


def test_offers_come_best_first_each_once_and_no_more_than_asked():
    offers = find_offers("it restarts, smells burnt and there was a storm", SHIPPED, most=5)
    assert len(offers) == 5
    assert len({(offer.kind, offer.id) for offer in offers}) == 5
    assert [offer.score for offer in offers] == sorted((offer.score for offer in offers), reverse=True)


@pytest.mark.parametrize("words", ["", "  ", "the and of", "xyzzy", "\u2603", "not"])
def test_words_that_say_nothing_find_nothing(words):
    assert find_offers(words, SHIPPED) == ()


def test_a_not_is_a_word_of_its_own():
    assert stems_of("it won\u2019t start") == stems_of("does not start") == ("not", "start")
