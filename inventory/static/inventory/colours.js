/* A colour picked instead of typed. The field stays the truth: what is picked is written into it.
   input[data-colour="label"]      gets the browser's own picker beside it
   [data-use-colour="#1f5f6b"]     a button that writes that colour
   img[data-pick-colour]           a photo: a tap writes the mean colour around that point
   [data-picked="{colour} …"]      says what a tap came to                                                         */
(function () {
  "use strict";

  const REACH = 4; // pixels of the photo to every side: single ones are noise
  const field = document.querySelector("input[data-colour]");
  if (!field) { return; }
  const picker = document.createElement("input");
  picker.type = "color";
  picker.setAttribute("aria-label", field.dataset.colour);
  const both = document.createElement("div");
  both.className = "colour-field";
  field.before(both);
  both.append(field, picker);

  function show() {
    if (/^#[0-9a-f]{6}$/i.test(field.value.trim())) { picker.value = field.value.trim().toLowerCase(); }
  }

  function write(colour) {
    field.value = colour;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  show();
  field.addEventListener("input", show);
  picker.addEventListener("input", function () { write(picker.value); });
  document.querySelectorAll("[data-use-colour]").forEach(function (button) {
    button.addEventListener("click", function () { write(button.dataset.useColour); });
  });

  function meanAround(photo, x, y) {
    const side = 2 * REACH + 1, canvas = document.createElement("canvas");
    canvas.width = side;
    canvas.height = side;
    const context = canvas.getContext("2d");
    context.drawImage(photo, x - REACH, y - REACH, side, side, 0, 0, side, side);
    const seen = context.getImageData(0, 0, side, side).data, sums = [0, 0, 0];
    let count = 0;
    for (let at = 0; at < seen.length; at += 4) {
      if (seen[at + 3]) { // beyond the photo's edge there is nothing
        count += 1;
        sums.forEach(function (_sum, channel) { sums[channel] += seen[at + channel]; });
      }
    }
    return "#" + sums.map(function (sum) {
      return Math.round(sum / Math.max(count, 1)).toString(16).padStart(2, "0");
    }).join("");
  }

  const photo = document.querySelector("img[data-pick-colour]");
  if (!photo) { return; }
  photo.addEventListener("click", function (event) {
    const box = photo.getBoundingClientRect();
    const x = Math.floor((event.clientX - box.left) / box.width * photo.naturalWidth);
    const y = Math.floor((event.clientY - box.top) / box.height * photo.naturalHeight);
    write(meanAround(photo, x, y));
    const told = document.querySelector("[data-picked]");
    told.textContent = told.dataset.picked.replace("{colour}", field.value);
  });
})();
