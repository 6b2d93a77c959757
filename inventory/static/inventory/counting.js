/* Marks on a straightened piece, window by window: a tap is a point, a drag a line across. Each is sent as it is made;
   what could not be sent stays on this device and follows later, also after the phone went to sleep.
   [data-counting="name"][data-at="/…/"]   the whole; where marks are sent; data-size: only lines count
   [data-piece]                            the piece, drawn in its own lengths (thousandths of a centimetre)
   [data-place]                            a window
   form[data-count-done]                   waits until every mark is saved                                         */
(function () {
  "use strict";

  const SVG = "http://www.w3.org/2000/svg";
  const root = document.querySelector("[data-counting]");
  const form = document.querySelector("form[data-count-done]");
  if (!root || !form) { return; }
  const piece = root.querySelector("[data-piece]"), marks = root.querySelector("[data-marks]");
  const whole = [0, 0, piece.viewBox.baseVal.width, piece.viewBox.baseVal.height];
  const side = Number(root.dataset.side), words = root.dataset;
  const windows = Array.from(root.querySelectorAll("[data-place]"), function (place) {
    return [Number(place.getAttribute("x")), Number(place.getAttribute("y"))];
  });
  const STORE = "draft." + root.dataset.counting, LAST = STORE + "." + document.body.dataset.user;
  const offline = window.meniscusOffline;
  const CONTEXT = 0.12, MOST_ZOOM = 4, RETRY_MS = 4000, LINE_FROM_PX = 9;
  let shown = 0, zoom = 1, centre = [0, 0], cross = null, start = null, begun = null, timer = 0, sending = null, atOnce = 50;
  let leaving = false;
  let queue = [];

  // ---- What is looked at -------------------------------------------------------------------------------------------

  function middleOf(number) { return windows[number].map(function (edge) { return edge + side / 2; }); }

  function look() {
    const span = side * (1 + 2 * CONTEXT) / zoom;
    const reach = (side * (1 + 2 * CONTEXT) - span) / 2, middle = middleOf(shown);
    centre = centre.map(function (at, axis) {
      return Math.min(Math.max(at, middle[axis] - reach), middle[axis] + reach);
    });
    piece.setAttribute("viewBox", [centre[0] - span / 2, centre[1] - span / 2, span, span].join(" "));
    root.querySelector("[data-pan]").hidden = zoom === 1;
    root.querySelector('[data-zoom="1"]').disabled = zoom >= MOST_ZOOM;
    root.querySelector('[data-zoom="-1"]').disabled = zoom <= 1;
    tellCount();
  }

  function goTo(number) {
    shown = (number + windows.length) % windows.length;
    zoom = 1;
    centre = middleOf(shown);
    cross = null;
    drawCross();
    look();
  }

  function tellCount() {
    const held = Array.from(marks.children).filter(function (mark) { return windowOf(mark.at) === shown; }).length;
    root.querySelector("[data-count-line]").textContent = words.window.replace("{number}", shown + 1)
      .replace("{all}", windows.length).replace("{marks}", held);
  }

  function tell(text) { root.querySelector("[data-told]").textContent = text; }

  // Stays until the next mark: that other marks are saved must not hide it.
  function warn(text) { root.querySelector("[data-warning]").textContent = text; }

  // ---- Marks -------------------------------------------------------------------------------------------------------

  function windowOf(at) {
    const x = at.length === 4 ? Math.floor((at[0] + at[2]) / 2) : at[0];
    const y = at.length === 4 ? Math.floor((at[1] + at[3]) / 2) : at[1];
    return windows.findIndex(function (place) {
      return place[0] <= x && x < place[0] + side && place[1] <= y && y < place[1] + side;
    });
  }

  function pathOf(at) {
    return "M" + at[0] + " " + at[1] + (at.length === 4 ? "L" + at[2] + " " + at[3] : "h0");
  }

  function draw(key, at) {
    const mark = document.createElementNS(SVG, "path");
    mark.setAttribute("d", pathOf(at));
    mark.setAttribute("class", "mark" + (at.length === 4 ? " is-line" : ""));
    mark.dataset.key = key;
    mark.at = at;
    marks.append(mark);
  }

  function nameOf(change) { return (change.at ? "+" : "-") + change.key; }

  function newKey() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), function (byte) {
      return byte.toString(16).padStart(2, "0");
    }).join("");
  }

  function add(at) {
    warn("");
    if (words.size && at.length < 4) { warn(words.drag); return; }
    if (windowOf(at) < 0) { warn(words.outside); return; }
    const key = newKey();
    draw(key, at);
    enqueue({ key: key, at: at });
    tellCount();
  }

  function undo() {
    const last = marks.lastElementChild;
    if (!last) { return; }
    const number = windowOf(last.at);
    last.remove();
    enqueue({ key: last.dataset.key });
    if (number >= 0 && number !== shown) { goTo(number); } else { tellCount(); }
  }

  // ---- Sending -----------------------------------------------------------------------------------------------------

  // A page on its way out may not finish a write to IndexedDB; this is written at once, for the next page in this tab.
  function leave() {
    leaving = true;
    try { if (queue.length) { window.sessionStorage.setItem(LAST, JSON.stringify(queue)); } } catch (refused) { /* full */ }
  }

  function takeOver() {
    try {
      const last = JSON.parse(window.sessionStorage.getItem(LAST)) || [];
      window.sessionStorage.removeItem(LAST);
      return last;
    } catch (refused) { return []; }
  }

  // Made before the phone went to sleep, and not sent yet.
  async function bringBack() {
    let kept = [];
    try { kept = await offline.read(STORE) || []; } catch (refused) { /* a private window */ }
    const last = takeOver(), keys = last.map(nameOf);
    kept = kept.filter(function (change) { return !keys.includes(nameOf(change)); }).concat(last);
    kept.forEach(function (change) {
      const there = marks.querySelector('[data-key="' + change.key + '"]');
      if (change.at && !there) { draw(change.key, change.at); }
      if (!change.at && there) { there.remove(); }
    });
    queue = queue.concat(kept); // behind those that may be on their way by now
    tellCount();
    if (queue.length) { keep(); send(); }
  }

  // A page on its way out may be followed by one that was drawn before these marks were saved: it is to draw them too.
  // Sent again they change nothing, since each has its key.
  function keep() {
    if (leaving) { return; }
    if (offline) { // in a private window they are in the page itself
      offline.keep(STORE, queue.length ? queue : undefined).catch(function () {});
    }
    tell(queue.length ? words.waiting.replace("{marks}", queue.length) : words.saved);
  }

  function enqueue(change) {
    if (leaving) { takeOver(); }
    leaving = false;
    queue.push(change);
    keep();
    send();
  }

  // In their order; one that is added and taken back again is sent as both.
  function bodyOf(batch) {
    const body = new FormData();
    body.append("csrfmiddlewaretoken", form.querySelector("[name=csrfmiddlewaretoken]").value);
    batch.forEach(function (change) {
      if (change.at) { body.append("add", [change.key].concat(change.at).join(",")); }
      else { body.append("remove", change.key); }
    });
    return body;
  }

  async function sendBatch() {
    const batch = queue.slice(0, atOnce);
    const answer = await fetch(words.at, { method: "POST", body: bodyOf(batch), redirect: "manual" });
    if (answer.ok) {
      queue = queue.slice(batch.length);
      keep();
    } else if (answer.status === 422 && batch.length > 1) {
      atOnce = 1; // one of them is refused: the others are kept
    } else if (answer.status === 422) {
      refused(batch, (await answer.json()).problem);
    } else {
      tell(answer.type === "opaqueredirect" || answer.status === 403 ? words.signIn : words.waiting.replace("{marks}", queue.length));
      throw new Error(String(answer.status));
    }
  }

  function refused(batch, problem) {
    batch.forEach(function (change) {
      const mark = marks.querySelector('[data-key="' + change.key + '"]');
      if (change.at && mark) { mark.remove(); }
    });
    queue = queue.slice(batch.length);
    keep();
    warn(problem);
    tellCount();
  }

  async function sendAll() {
    try {
      while (queue.length) { await sendBatch(); }
    } catch (offline) {
      window.clearTimeout(timer);
      timer = window.setTimeout(send, RETRY_MS);
    }
  }

  function send() {
    sending = sending || sendAll().finally(function () { sending = null; });
    return sending;
  }

  // ---- By finger and by mouse --------------------------------------------------------------------------------------

  function placeOf(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(piece.getScreenCTM().inverse());
    return onPiece(at.x, at.y);
  }

  function onPiece(x, y) {
    return [Math.min(Math.max(Math.round(x), 0), whole[2]), Math.min(Math.max(Math.round(y), 0), whole[3])];
  }

  function isLine(event) {
    return Math.hypot(event.clientX - start.clientX, event.clientY - start.clientY) >= LINE_FROM_PX;
  }

  function drawLine(at) { root.querySelector("[data-line]").setAttribute("d", at ? pathOf(at) : ""); }

  function letGo() { start = null; drawLine(null); }

  piece.addEventListener("pointerdown", function (event) {
    if (!event.isPrimary) { letGo(); return; } // two fingers mark nothing
    if (event.button !== 0) { return; }
    event.preventDefault();
    piece.focus({ preventScroll: true });
    piece.setPointerCapture(event.pointerId);
    start = { clientX: event.clientX, clientY: event.clientY, at: placeOf(event) };
    cross = begun = null;
    drawCross();
  });
  piece.addEventListener("pointermove", function (event) {
    if (start && isLine(event)) { drawLine(start.at.concat(placeOf(event))); }
  });
  piece.addEventListener("pointerup", function (event) {
    if (!start) { return; }
    const at = isLine(event) ? start.at.concat(placeOf(event)) : start.at;
    letGo();
    add(at);
  });
  piece.addEventListener("pointercancel", letGo);

  // ---- By keyboard -------------------------------------------------------------------------------------------------

  function drawCross() {
    const arm = side / 25;
    root.querySelector("[data-cross]").setAttribute("d", cross ? "M" + (cross[0] - arm) + " " + cross[1] + "h" + 2 * arm +
      "M" + cross[0] + " " + (cross[1] - arm) + "v" + 2 * arm : "");
    drawLine(cross && begun ? begun.concat(cross) : null);
  }

  function moveCross(dx, dy, fine) {
    const step = side / (fine ? 200 : 25) / zoom;
    const from = cross || centre.map(Math.round);
    cross = onPiece(from[0] + dx * step, from[1] + dy * step);
    centre = cross.slice();
    drawCross();
    look();
  }

  function mark() {
    if (!cross) { moveCross(0, 0, false); return; }
    add(begun ? begun.concat(cross) : cross);
    begun = null;
    drawCross();
  }

  function zoomBy(way) {
    zoom = Math.min(Math.max(way > 0 ? zoom * 2 : zoom / 2, 1), MOST_ZOOM);
    look();
  }

  const KEYS = {
    ArrowUp: function (fine) { moveCross(0, -1, fine); },
    ArrowDown: function (fine) { moveCross(0, 1, fine); },
    ArrowLeft: function (fine) { moveCross(-1, 0, fine); },
    ArrowRight: function (fine) { moveCross(1, 0, fine); },
    Enter: mark,
    " ": function () { if (!cross) { moveCross(0, 0, false); } begun = cross.slice(); },
    Backspace: undo,
    "+": function () { zoomBy(1); },
    "-": function () { zoomBy(-1); },
    PageDown: function () { goTo(shown + 1); },
    PageUp: function () { goTo(shown - 1); },
  };
  piece.addEventListener("keydown", function (event) {
    const act = KEYS[event.key];
    if (!act || event.ctrlKey || event.altKey || event.metaKey) { return; }
    event.preventDefault();
    act(event.shiftKey);
  });

  // ---- Buttons -----------------------------------------------------------------------------------------------------

  root.addEventListener("click", function (event) {
    const button = event.target.closest("button");
    if (!button) { return; }
    if (button.dataset.windowStep) { goTo(shown + Number(button.dataset.windowStep)); }
    if (button.dataset.zoom) { zoomBy(Number(button.dataset.zoom)); }
    if ("undo" in button.dataset) { undo(); }
    if (button.dataset.move) {
      const way = button.dataset.move.split(",").map(Number);
      centre = centre.map(function (at, axis) { return at + way[axis] * side / 3 / zoom; });
      look();
    }
  });
  document.addEventListener("submit", async function (event) {
    if (event.target !== form || !queue.length) { return; }
    event.preventDefault();
    event.stopImmediatePropagation();
    await send();
    if (!queue.length) { form.requestSubmit(); }
  }, true);
  window.addEventListener("online", send);
  window.addEventListener("beforeunload", leave);
  window.addEventListener("pagehide", leave); // a phone may leave out the one or the other
  document.addEventListener("visibilitychange", function () { if (!document.hidden) { send(); } });

  Array.from(marks.children).forEach(function (mark) {
    mark.at = mark.getAttribute("d").match(/\d+/g).map(Number).slice(0, mark.classList.contains("is-line") ? 4 : 2);
  });
  piece.classList.add("is-live");
  goTo(0);
  piece.scrollIntoView({ block: "center" });
  bringBack();
})();
