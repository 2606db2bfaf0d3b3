// The camera's picture with the outline of what belongs in it, where the browser gives its camera.
// No browser reads the sheets' marks by itself, so nothing is said of what is seen.
(() => {
  "use strict";
  const ENOUGH = 2200; // pixels of the longer side: 2560 measures well, 1600 does not
  const byId = (id) => document.getElementById(id);

  // take: what to do with a picture taken
  function begin(take) {
    const open = byId("live-open"), view = byId("live-view"), button = byId("live-take");
    const video = view.querySelector("video"), say = (text) => { byId("live-said").textContent = text; };
    let camera = null;
    if (!navigator.mediaDevices?.getUserMedia) return;
    byId("live").hidden = false;

    function stop() {
      camera?.getTracks().forEach((track) => track.stop());
      camera = video.srcObject = null;
      view.hidden = true;
      open.textContent = "Look with the outline";
    }

    async function start() {
      const wanted = { facingMode: "environment", width: { ideal: 4096 }, height: { ideal: 3072 } };
      say("");
      try {
        camera = await navigator.mediaDevices.getUserMedia({ video: wanted });
      } catch (error) {
        say(`The camera cannot be used here (${error.name}). Take a photograph instead.`);
        return;
      }
      video.srcObject = camera;
      view.hidden = false;
      open.textContent = "Stop the camera";
      await video.play().catch(() => {});
      const enough = Math.max(video.videoWidth, video.videoHeight) >= ENOUGH;
      button.hidden = !enough;
      if (!enough) say("The live picture is too small to measure: find the place with it, then take a photograph.");
    }

    async function shoot() {
      const canvas = document.createElement("canvas");
      Object.assign(canvas, { width: video.videoWidth, height: video.videoHeight });
      canvas.getContext("2d").drawImage(video, 0, 0);
      stop();
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92));
      if (blob) await take(blob);
    }

    open.addEventListener("click", () => (camera ? stop() : start()));
    button.addEventListener("click", shoot);
    window.addEventListener("pagehide", stop);
  }

  window.splicewright = Object.assign(window.splicewright || {}, { live: begin });
})();
