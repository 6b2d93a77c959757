/* The sales of a stall on this device: kept at once, sent by offline.js, each with its own key and so never twice.

   meniscusStallSales(root)   root: [data-stall], with data-url and data-label
     .add(sale)               {pieces: [{piece, title, price}], body, total, paidBy}; a promise that it is kept
     .all()                   the sales, the latest first, each with state (waiting, sent, refused) and problem
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

  function queue(sale) {
    return offline.send({
      key: sale.key, url: root.dataset.url, body: sale.body, label: root.dataset.label, back: window.location.pathname,
    });
  }

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
  }

  // A sale that was kept and never came into the queue, because the browser was ended in between, goes into it now.
  async function settled(sale) {
    if (sale.isSent) { return Object.assign({ state: "sent" }, sale); }
    const entry = await offline.entry(sale.key);
    if (!entry) { queue(sale); return Object.assign({ state: "waiting" }, sale); }
    if (entry.state === "sent") {
      await marked(sale.key, { isSent: true });
      await offline.drop(sale.key);
    }
    return Object.assign({ state: entry.state, problem: entry.problem }, sale);
  }

  async function all() {
    const kept = await offline.read(RECORD) || [];
    const sales = [];
    for (const sale of kept) { sales.push(await settled(sale)); }
    return sales.reverse();
  }

  async function forget(key) {
    await change(function (kept) { return kept.filter(function (sale) { return sale.key !== key; }); });
    await offline.drop(key);
  }

  async function again(key) {
    const sale = (await offline.read(RECORD) || []).find(function (each) { return each.key === key; });
    if (sale) { await queue(sale); }
  }

  function tidy() {
    return change(function (kept) {
      return kept.filter(function (sale) { return !sale.isSent || Date.now() - sale.at < KEEP_MS; });
    });
  }

  return { add: add, all: all, again: again, forget: forget, tidy: tidy };
};
