/* In the shop: a touch shows at once, is kept on this device, and is sent when there is a network (offline.js).
   Without a script, or where a browser keeps nothing, the plain forms do the same.

   [data-shop]   where touches are sent; data-label names them on other pages while they wait */
(function () {
  "use strict";

  const root = document.querySelector("[data-shop]"), offline = window.meniscusOffline;
  if (!root || !offline) { return; }
  const RECORD = "shopping";
  const forms = Array.from(root.querySelectorAll("form"));

  function subject(form) {
    const typed = new FormData(form);
    const kind = typed.has("material") ? "material" : "entry";
    return { kind: kind, number: Number(typed.get(kind)), name: kind + typed.get(kind) };
  }

  function show(form, isTicked) {
    form.querySelector("button").setAttribute("aria-pressed", String(isTicked));
    form.elements.namedItem("ticked").value = isTicked ? "no" : "yes";
  }

  // Keys rise with time, so that what waits is sent in the order of the touches.
  function newKey() {
    const random = Array.from(crypto.getRandomValues(new Uint8Array(6)), function (byte) { return byte.toString(16); });
    return "tick-" + Date.now() + "-" + random.join("");
  }

  async function touch(form) {
    const what = subject(form), key = newKey(), body = {};
    const isTicked = form.querySelector("button").getAttribute("aria-pressed") !== "true";
    show(form, isTicked);
    body[what.kind] = what.number;
    body.ticked = isTicked;
    await offline.update(RECORD, function (kept) {
      return Object.assign({}, kept, { [what.name]: { key: key, ticked: isTicked } });
    });
    await offline.send({
      key: key, url: root.dataset.shop, body: body, label: root.dataset.label, back: window.location.pathname,
    });
    await settle();
  }

  // A kept page is as old as its last opening: what was touched since and still waits stands above it.
  async function settle() {
    const kept = await offline.read(RECORD) || {};
    for (const form of forms) {
      const mine = kept[subject(form).name];
      const entry = mine && await offline.entry(mine.key);
      if (entry && entry.state === "waiting") { show(form, mine.ticked); }
    }
    for (const name of Object.keys(kept)) {
      const entry = await offline.entry(kept[name].key);
      if (entry && entry.state !== "waiting") { await offline.drop(entry.key); }
    }
  }

  root.addEventListener("submit", function (event) {
    event.preventDefault();
    touch(event.target);
  });
  settle().then(function () { return offline.keepPage(); }).catch(function () { return false; });
})();
