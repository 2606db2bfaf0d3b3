// Scan a label with the camera, where the browser can read codes; typing the address does as well.
"use strict";
(() => {
  const button = document.getElementById("scan"), view = document.getElementById("scan-view");
  const status = document.getElementById("scan-said"), box = document.getElementById("q");
  if (!button || !("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return;
  button.hidden = false;
  let camera = null;

  function stop() {
    camera?.getTracks().forEach((track) => track.stop());
    camera = null;
    view.hidden = true;
    view.srcObject = null;
    button.textContent = "Scan a label";
  }

  async function start() {
    try {
      camera = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (error) {
      status.textContent = `The camera cannot be used (${error.name}). Type the address under the code instead.`;
      return;
    }
    view.srcObject = camera;
    view.hidden = false;
    button.textContent = "Stop the camera";
    status.textContent = "Hold the code in front of the camera.";
    view.play().catch(() => {}); // the first look comes when it plays
    const reader = new window.BarcodeDetector({ formats: ["qr_code"] });
    while (camera) {
      const codes = await reader.detect(view).catch(() => []);
      if (codes.length) {
        // The server says what it is: only its own pages are opened.
        box.value = codes[0].rawValue.slice(0, 300);
        stop();
        box.form.requestSubmit();
        return;
      }
      await new Promise((later) => setTimeout(later, 150));
    }
  }

  button.addEventListener("click", () => (camera ? stop() : start()));
  window.addEventListener("pagehide", stop);
})();
