// A camera button beside the code of <form data-scan>, where the browser can read
// bar codes by itself. Elsewhere the code is typed, or comes from a hand reader,
// which types it.
"use strict";

(async () => {
  const forms = document.querySelectorAll("form[data-scan]");
  if (!forms.length || !("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  const kinds = (await BarcodeDetector.getSupportedFormats()).filter((k) => k === "code_128" || k === "qr_code");
  if (!kinds.length) return;
  const reader = new BarcodeDetector({ formats: kinds });

  for (const form of forms) {
    const entry = form.querySelector("input[name=code]");
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Scan with the camera" });
    entry.closest(".field").after(button);
    let stream = null, video = null;

    const stop = () => {
      if (stream) for (const t of stream.getTracks()) t.stop();
      if (video) video.remove();
      stream = video = null;
      button.textContent = "Scan with the camera";
    };
    const look = async () => {
      if (!video) return;
      const found = await reader.detect(video).catch(() => []);
      if (found.length && video) {
        entry.value = found[0].rawValue.split("/").pop(); // a square code may hold a link that ends in the code
        stop();
        form.requestSubmit();
        return;
      }
      setTimeout(look, 150);
    };
    button.addEventListener("click", async () => {
      if (stream) return stop();
      try {
        stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      } catch {
        button.textContent = "The camera isn't allowed; type the code";
        return;
      }
      video = Object.assign(document.createElement("video"), { srcObject: stream, muted: true, playsInline: true });
      video.className = "camera";
      form.append(video);
      button.textContent = "Stop the camera";
      await video.play();
      look();
    });
  }
})();
