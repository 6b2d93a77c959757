/* Reads the code on a label: live with the camera where the browser can (Shape Detection API, BarcodeDetector), or else
   from a photo that the server reads, which needs a network.

   meniscusStallScan(root, found, say)   root: holds [data-scan], [data-scan-panel], [data-video], [data-scan-stop],
                                         [data-scan-photo]; data-codes-url, data-text-offline, data-text-no-code
                                         found(text) answers whether the code was of use; say(words) tells her      */
window.meniscusStallScan = function (root, found, say) {
  "use strict";

  const start = root.querySelector("[data-scan]"), panel = root.querySelector("[data-scan-panel]");
  const video = root.querySelector("[data-video]"), photo = root.querySelector("[data-scan-photo]");
  const LOOK_MS = 200, LONGEST_SIDE = 1600, QUALITY = 0.85;
  let stream = null, timer = 0;

  // ---- Live -------------------------------------------------------------------------------------------------------

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

  async function watch() {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    panel.hidden = false;
    video.srcObject = stream;
    await video.play();
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    timer = window.setInterval(function () { look(detector); }, LOOK_MS);
  }

  // ---- From a photo -----------------------------------------------------------------------------------------------

  // A phone's photo is made smaller first: a stall has a poor network.
  async function smaller(file) {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return new Promise(function (resolve) { canvas.toBlob(resolve, "image/jpeg", QUALITY); });
  }

  async function read(file) {
    const body = new FormData();
    body.append("photo", await smaller(file).catch(function () { return file; }), "code.jpg");
    const token = await window.meniscusOffline.token();
    const answer = await fetch(root.dataset.codesUrl, { method: "POST", body: body, headers: { "X-CSRFToken": token || "" } });
    const told = await answer.json();
    return answer.ok ? told : { codes: [], detail: told.detail };
  }

  async function readPhoto() {
    const file = photo.files[0];
    photo.value = "";
    if (!file) { return; }
    start.disabled = true;
    const told = await read(file).catch(function () { return { codes: [], detail: root.dataset.textOffline }; });
    start.disabled = false;
    if (!told.codes.length) { say(told.detail || root.dataset.textNoCode); }
    told.codes.some(found); // says by itself which code it does not know
  }

  const isLive = "BarcodeDetector" in window && navigator.mediaDevices;
  start.hidden = false;
  start.addEventListener("click", function () {
    if (isLive) { watch().catch(function () { photo.click(); }); } else { photo.click(); }
  });
  photo.addEventListener("change", readPhoto);
  root.querySelector("[data-scan-stop]").addEventListener("click", stop);
};
