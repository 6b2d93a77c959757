/* Reads the code on a label with the camera, where the browser can (Shape Detection API, BarcodeDetector).

   meniscusStallScan(root, found)   root: holds [data-scan], [data-scan-panel], [data-video], [data-scan-stop]
                                    found(text) answers whether the code was of use; then the camera stops            */
window.meniscusStallScan = function (root, found) {
  "use strict";

  const start = root.querySelector("[data-scan]"), panel = root.querySelector("[data-scan-panel]");
  const video = root.querySelector("[data-video]");
  const LOOK_MS = 200;
  let stream = null, timer = 0;
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) { return; }
  start.hidden = false;

  function stop() {
    window.clearInterval(timer);
    if (stream) { stream.getTracks().forEach(function (track) { track.stop(); }); }
    stream = null;
    panel.hidden = true;
  }

  async function look(detector) {
    const codes = await detector.detect(video).catch(function () { return []; });
    if (stream && codes.length && found(codes[0].rawValue)) { stop(); }
  }

  start.addEventListener("click", async function () {
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch (refused) { return; }
    panel.hidden = false;
    video.srcObject = stream;
    await video.play();
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    timer = window.setInterval(function () { look(detector); }, LOOK_MS);
  });
  root.querySelector("[data-scan-stop]").addEventListener("click", stop);
};
