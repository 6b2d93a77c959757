/* A code read from a photo into a field. Everything works by typing as well.
   input data-scan-code="Scan" data-codes-url data-no-code    gets a button that takes a photo, which the server reads
   data-scan-sends                                            sends its form with the code
   data-packs-url                                             a barcode chooses material and pack of its row (API)     */
(function () {
  "use strict";

  function beside(input, name) {
    const row = input.name.slice(0, input.name.lastIndexOf("-") + 1);
    return input.form && input.form.elements[row + name];
  }

  function say(input, words) {
    let place = input.parentElement.querySelector("[data-scan-says]");
    if (!place) {
      place = document.createElement("p");
      place.className = "help";
      place.setAttribute("role", "status");
      place.dataset.scanSays = "";
      input.parentElement.append(place);
    }
    place.textContent = words;
  }

  async function choosePack(input) {
    const code = input.value.trim(), material = beside(input, "material"), pack = beside(input, "pack");
    if (!code || !material) { return; }
    const url = input.dataset.packsUrl + "?gtin=" + encodeURIComponent(code);
    const answer = await fetch(url, { headers: { Accept: "application/json" } }).catch(function () { return null; });
    const found = answer && answer.ok ? (await answer.json()).results : [];
    if (!found.length || (material.value && material.value !== String(found[0].material.id))) { return; } // the server says why
    material.value = String(found[0].material.id);
    if (pack && !pack.value) { pack.value = found[0].pack_size.formatted; }
    material.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function take(input, code) {
    input.value = code;
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
    if ("scanSends" in input.dataset) { input.form.requestSubmit(); } else { input.focus(); }
  }

  async function read(input, file) {
    const body = new FormData();
    body.append("photo", file);
    const token = await window.meniscusOffline.token();
    const options = { method: "POST", body: body, headers: { "X-CSRFToken": token || "" } };
    const answer = await fetch(input.dataset.codesUrl, options);
    const told = await answer.json();
    if (told.codes && told.codes.length) { say(input, ""); take(input, told.codes[0]); } else { say(input, told.detail || input.dataset.noCode); }
  }

  function addButton(input) {
    if (input.dataset.scanReady) { return; }
    input.dataset.scanReady = "yes";
    const photo = document.createElement("input");
    photo.type = "file";
    photo.accept = "image/*";
    photo.setAttribute("capture", "environment");
    photo.hidden = true;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button is-quiet scan-button";
    button.textContent = input.dataset.scanCode;
    button.addEventListener("click", function () { photo.click(); });
    photo.addEventListener("change", function () {
      const file = photo.files[0];
      photo.value = "";
      if (file) { read(input, file).catch(function () { say(input, input.dataset.noCode); }); }
    });
    input.after(button, photo);
  }

  document.querySelectorAll("[data-scan-code]").forEach(addButton);
  document.addEventListener("focusin", function (event) {
    if (event.target.matches("[data-scan-code]")) { addButton(event.target); }
  });
  document.addEventListener("change", function (event) {
    if (event.target.matches("[data-packs-url]")) { choosePack(event.target); }
  });
  // A hand scanner ends with Enter: in a row that must not send the form.
  document.addEventListener("keydown", function (event) {
    if (event.key === "Enter" && event.target.matches("[data-packs-url]")) {
      event.preventDefault();
      event.target.dispatchEvent(new Event("change", { bubbles: true }));
    }
  });
})();
