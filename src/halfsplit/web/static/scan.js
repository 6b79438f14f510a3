// Scanning by the camera, where the browser reads codes by itself; elsewhere there is no button for it.
"use strict";

async function scanByCamera(form, Detector) {
  const video = document.createElement("video");
  video.className = "camera";
  video.muted = true;
  video.playsInline = true;
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    video.srcObject = stream;
    form.append(video);
    await video.play();
    const detector = new Detector({ formats: ["qr_code"] });
    const over = Date.now() + 30000;
    while (Date.now() < over && video.isConnected) { // until somebody goes to another page
      const found = await detector.detect(video);
      if (found.length) {
        form.elements.code.value = found[0].rawValue;
        form.requestSubmit();
        break;
      }
      await new Promise((again) => setTimeout(again, 150));
    }
  } catch {
    // no camera, or it may not be used here: the field is still there
  } finally {
    for (const track of stream ? stream.getTracks() : []) track.stop();
    video.remove();
  }
}

function offerCamera() {
  for (const form of document.querySelectorAll("[data-scan]")) {
    if (window.BarcodeDetector && navigator.mediaDevices) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = form.dataset.scan;
      form.append(button);
      button.addEventListener("click", () => scanByCamera(form, window.BarcodeDetector));
    }
    // The field waits for a scanner without a keyboard on the screen; a tap on it brings the keyboard.
    const field = form.querySelector("[data-typed]");
    if (field) field.addEventListener("pointerdown", () => field.setAttribute("inputmode", "text"));
  }
}
