/* The sales of a stall on this device: kept at once, sent by offline.js, each with its own key and so never twice.

   meniscusStallSales(root)   root: [data-stall], with data-url, data-undo-url and data-label
     .add(sale)               {pieces: [{piece, title, price}], body, total, paidBy}; a promise of its key, once it is kept
     .all()                   the sales, the latest first, each with state and problem: waiting, sent or refused; undoing or
                              not-undone
     .undo(key)               one that never left is taken off the queue; of any other the server is asked to undo it
     .again(key), .forget(key)                                                                                        */
window.meniscusStallSales = function (root) {
  "use strict";

  const offline = window.meniscusOffline;
  const RECORD = "stall." + root.dataset.stall;
  const KEEP_MS = 3 * 24 * 60 * 60 * 1000;

  // Keys rise with time, so that what waits is sent in the order of the sales.
  function newKey() {
    const random = Array.from(crypto.getRandomValues(new Uint8Array(6)), function (byte) { return byte.toString(16); });
    return "sale-" + Date.now() + "-" + random.join("");
  }

  function send(key, url, body) {
    return offline.send({ key: key, url: url, body: body, label: root.dataset.label, back: window.location.pathname });
  }

  function queue(sale) { return send(sale.key, root.dataset.url, sale.body); }

  // Sent right after its sale, and before a later sale of the same pieces: the queue goes by the keys.
  function undoKey(key) { return key + "-undo"; }
  function queueUndo(key) { return send(undoKey(key), root.dataset.undoUrl, { sale: key }); }

  function change(make) {
    return offline.update(RECORD, function (kept) { return make(kept || []); });
  }

  function marked(key, facts) {
    return change(function (kept) {
      return kept.map(function (sale) { return sale.key === key ? Object.assign({}, sale, facts) : sale; });
    });
  }

  async function add(facts) {
    const sale = Object.assign({ key: newKey(), at: Date.now() }, facts);
    await change(function (kept) { return kept.concat([sale]); });
    queue(sale);
    return sale.key;
  }

  async function one(key) {
    return (await offline.read(RECORD) || []).find(function (sale) { return sale.key === key; });
  }

  // Marked first: whoever finds the queue without it (below) must not put it in again.
  async function undo(key) {
    await marked(key, { isUndone: true });
    const isInQueue = await offline.takeOff(key), sale = await one(key);
    if (isInQueue || sale && sale.isSent) { queueUndo(key); } else { await forget(key); }
  }

  async function undoing(sale) {
    const entry = await offline.entry(undoKey(sale.key));
    if (entry && entry.state === "sent") { await forget(sale.key); return null; }
    if (!entry && await one(sale.key)) { undo(sale.key); }
    const isRefused = entry && entry.state === "refused";
    return Object.assign({ state: isRefused ? "not-undone" : "undoing", problem: isRefused ? entry.problem : null }, sale);
  }

  // A sale that was kept and never came into the queue, because the browser was ended in between, goes into it now.
  async function settled(sale) {
    const entry = sale.isSent ? null : await offline.entry(sale.key);
    if (entry && entry.state === "sent") {
      await marked(sale.key, { isSent: true });
      await offline.drop(sale.key);
    }
    if (sale.isUndone && !(entry && entry.state === "refused")) { return undoing(sale); }
    if (sale.isSent) { return Object.assign({ state: "sent" }, sale); }
    if (!entry) {
      const now = await one(sale.key);
      if (!now || now.isUndone) { return null; }
      if (!now.isSent) { queue(sale); }
      return Object.assign({ state: now.isSent ? "sent" : "waiting" }, sale);
    }
    return Object.assign({ state: entry.state, problem: entry.problem }, sale);
  }

  async function all() {
    const kept = await offline.read(RECORD) || [];
    const sales = [];
    for (const sale of kept) { sales.push(await settled(sale)); }
    return sales.filter(Boolean).reverse();
  }

  async function forget(key) {
    await change(function (kept) { return kept.filter(function (sale) { return sale.key !== key; }); });
    await offline.drop(key);
    await offline.drop(undoKey(key));
  }

  async function again(key) {
    const sale = await one(key);
    if (sale) { await queue(sale); }
  }

  function tidy() {
    return change(function (kept) {
      return kept.filter(function (sale) { return !sale.isSent || Date.now() - sale.at < KEEP_MS; });
    });
  }

  return { add: add, all: all, undo: undo, again: again, forget: forget, tidy: tidy };
};
