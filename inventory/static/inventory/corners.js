/* Four corners on a photo: tapped in turn, then dragged or nudged until they sit on the edge.
   [data-corners] [data-photo]     the photo, drawn in its own pixels
   [data-loupe]                    the chosen corner, larger: a finger hides it
   [data-move="dx,dy"]             nudges it by a pixel
   input[name=corners]             what is sent: "x,y x,y x,y x,y"                                                 */
(function () {
  "use strict";

  const SVG = "http://www.w3.org/2000/svg";
  const root = document.querySelector("[data-corners]");
  const field = document.querySelector("input[name=corners]");
  if (!root || !field) { return; }
  const photo = root.querySelector("[data-photo]"), loupe = root.querySelector("[data-loupe]");
  const size = photo.viewBox.baseVal, names = root.dataset.names.split(",");
  const done = document.querySelector("[data-corners-done]");
  let points = [], chosen = -1, dragged = false;

  function placeOf(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(photo.getScreenCTM().inverse());
    return inside(at.x, at.y);
  }

  function inside(x, y) {
    return [Math.min(Math.max(Math.round(x), 0), size.width), Math.min(Math.max(Math.round(y), 0), size.height)];
  }

  function nearest(at) {
    const reach = size.width / photo.getBoundingClientRect().width * 32; // 32 px under a finger
    const away = points.map(function (point) { return Math.hypot(point[0] - at[0], point[1] - at[1]); });
    const least = Math.min(...away);
    return least <= reach ? away.indexOf(least) : -1;
  }

  function words(text, name) { return text.replace("{corner}", name); }

  function draw() {
    const dots = points.map(function (point, number) {
      const dot = document.createElementNS(SVG, "path");
      dot.setAttribute("d", "M" + point[0] + " " + point[1] + "h0");
      dot.setAttribute("class", "corner" + (number === chosen ? " is-chosen" : ""));
      return dot;
    });
    photo.querySelector("[data-points]").replaceChildren(...dots);
    const shape = points.length > 1 ? "M" + points.map(function (point) { return point.join(" "); }).join("L") +
      (points.length === 4 ? "Z" : "") : "";
    root.querySelectorAll("[data-shape], [data-loupe-shape]").forEach(function (path) { path.setAttribute("d", shape); });
    const missing = points.length < 4 ? words(root.dataset.next, names[points.length]) : "";
    root.querySelector("[data-prompt]").textContent = missing || words(root.dataset.chosen, names[chosen]);
    lookAtChosen();
    field.value = points.length === 4 ? points.map(function (point) { return point.join(","); }).join(" ") : "";
    done.disabled = points.length < 4;
  }

  function lookAtChosen() {
    const at = points[chosen] || [size.width / 2, size.height / 2], half = size.width / 24;
    loupe.setAttribute("viewBox", [at[0] - half, at[1] - half, 2 * half, 2 * half].join(" "));
    root.querySelector("[data-loupe-cross]").setAttribute("d",
      "M" + (at[0] - half) + " " + at[1] + "h" + 2 * half + "M" + at[0] + " " + (at[1] - half) + "v" + 2 * half);
  }

  function move(x, y) {
    if (chosen < 0) { return; }
    points[chosen] = inside(x, y);
    draw();
  }

  photo.addEventListener("pointerdown", function (event) {
    if (!event.isPrimary || event.button !== 0) { return; }
    event.preventDefault();
    photo.focus({ preventScroll: true });
    const at = placeOf(event), near = nearest(at);
    if (near < 0 && points.length < 4) { points.push(at); chosen = points.length - 1; }
    else if (near >= 0) { chosen = near; }
    else { return; }
    dragged = true;
    photo.setPointerCapture(event.pointerId);
    draw();
  });
  photo.addEventListener("pointermove", function (event) { if (dragged) { move(...placeOf(event)); } });
  ["pointerup", "pointercancel"].forEach(function (end) {
    photo.addEventListener(end, function () { dragged = false; });
  });

  function nudge(dx, dy, step) {
    if (chosen < 0) { points.push(inside(size.width / 2, size.height / 2)); chosen = 0; }
    move(points[chosen][0] + dx * step, points[chosen][1] + dy * step);
  }

  photo.addEventListener("keydown", function (event) {
    const way = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key];
    if (way) { nudge(way[0], way[1], event.shiftKey ? 1 : Math.ceil(size.width / 100)); }
    else if (event.key === "Enter" && points.length < 4) {
      points.push(inside(size.width / 2, size.height / 2));
      chosen = points.length - 1;
      draw();
    } else if (event.key === "Enter") { chosen = (chosen + 1) % 4; draw(); }
    else { return; }
    event.preventDefault();
  });
  root.addEventListener("click", function (event) {
    const button = event.target.closest("[data-move]");
    if (button) { nudge(...button.dataset.move.split(",").map(Number), 1); }
  });
  document.querySelector("[data-corners-again]").addEventListener("click", function () {
    points = [];
    chosen = -1;
    draw();
  });
  draw();
  photo.scrollIntoView({ block: "center" });
})();
