"""A scanner types and ends with enter; the camera is there only where the browser reads codes by itself."""

from browser.chrome import open_page

FAKE_READER = """
window.BarcodeDetector = class {
  async detect() { return [{ rawValue: "hs:job:3" }]; }
};
navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  let turn = 0;
  setInterval(() => {  // a camera gives a picture only where the canvas moves
    canvas.getContext("2d").fillStyle = turn++ % 2 ? "black" : "white";
    canvas.getContext("2d").fillRect(0, 0, 9, 9);
  }, 50);
  return canvas.captureStream(5);
};
"""


def test_a_scanner_finds_its_field_without_a_tap(shop):
    page = shop.open("/")
    page.keyboard.type("hs:job:2")
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/2")
    page.context.close()


def test_there_is_no_button_for_a_camera_that_cannot_read(shop):
    page = shop.open("/")
    page.wait_for_load_state("networkidle")
    reads = page.evaluate("'BarcodeDetector' in window")
    assert page.get_by_role("button", name="by camera").count() == int(reads)
    page.context.close()


def test_what_the_camera_reads_is_opened(shop):
    page = open_page(shop.browser, shop.home, "tablet")
    page.add_init_script(FAKE_READER)
    page.goto("/")
    page.get_by_role("button", name="by camera").click()
    page.wait_for_url("**/jobs/3")
    page.context.close()


def test_a_wrong_code_can_be_scanned_again(shop):
    page = shop.open("/")
    page.keyboard.type("4006381333931x")
    page.keyboard.press("Enter")
    page.get_by_text("HS811").wait_for()
    page.get_by_label("code").fill("hs:job:2")
    page.get_by_role("button", name="Send it again").click()
    page.wait_for_url("**/jobs/2")
    page.context.close()
