/* Reads a label's QR code with the camera, where the browser itself can; everywhere else the tag is typed. */
"use strict";

(function () {
  const LOOK_EVERY_MS = 200;

  function addressIn(text) {
    const found = text.match(/\/(?:bench|devices)\/([a-z0-9]{12})\/?$/);
    return found ? found[1] : "";
  }

  async function scan(form, place, detector) {
    const say = place.querySelector("[data-scan-say]");
    const picture = place.querySelector("video");
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (error) {
      say.textContent = "The camera could not be opened (" + error.name + "). Type the tag instead.";
      return;
    }
    picture.hidden = false;
    picture.srcObject = stream;
    await picture.play();
    say.textContent = "Hold the label before the camera.";
    const look = window.setInterval(async function () {
      const codes = await detector.detect(picture);
      if (!codes.length) return;
      window.clearInterval(look);
      stream.getTracks().forEach(function (track) {
        track.stop();
      });
      picture.hidden = true;
      const tag = form.querySelector("input[name=tag]");
      tag.value = addressIn(codes[0].rawValue) || codes[0].rawValue;
      say.textContent = "Read.";
      form.requestSubmit();
    }, LOOK_EVERY_MS);
  }

  async function offer(form) {
    const place = form.querySelector("[data-scan]");
    if (!place || !("BarcodeDetector" in window) || !navigator.mediaDevices) return;
    const formats = await window.BarcodeDetector.getSupportedFormats();
    if (!formats.includes("qr_code")) return;
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    place.hidden = false;
    place.querySelector("button").addEventListener("click", function () {
      scan(form, place, detector);
    });
  }

  document.querySelectorAll("form[data-tag]").forEach(offer);
})();
