/* The selling screen: touch the pieces, then cash or card, then what was given. Everything works without a network. */
(function () {
  "use strict";

  const root = document.querySelector("[data-stall]"), offline = window.meniscusOffline;
  if (!root || !offline) { return; }
  const texts = root.dataset;
  const money = window.meniscusStallSums(texts.moneySample, Number(texts.moneyPlaces));
  const sales = window.meniscusStallSales(root);
  const pieceRows = Array.from(root.querySelectorAll("[data-piece]"));
  const HINT_MS = 4000, UNDO_MS = 2 * 60 * 1000, UNDO_IN_LIST_MS = 60 * 60 * 1000;

  function part(name) { return root.querySelector("[data-" + name + "]"); }
  function fill(text, values) {
    return Object.keys(values).reduce(function (words, name) { return words.replace("{" + name + "}", values[name]); }, text);
  }

  // ---- Finding ----------------------------------------------------------------------------------------------------

  const search = part("search");

  function filterPieces() {
    const words = search.value.trim().toLowerCase().split(/\s+/);
    let shown = 0, left = 0;
    for (const row of pieceRows) {
      const text = (row.dataset.title + " " + row.dataset.number).toLowerCase();
      const fits = words.every(function (word) { return text.includes(word); });
      row.hidden = row.dataset.sold === "yes" || !fits;
      shown += row.hidden ? 0 : 1;
      left += row.dataset.sold === "yes" ? 0 : 1;
    }
    part("nothing").hidden = shown > 0 || !left;
    part("all-sold").hidden = left > 0 || !pieceRows.length;
  }

  // A label's code is the piece's number, or the address of its page.
  function rowOf(code) {
    const address = code.match(/\/pieces\/(\d+)\/?/);
    return pieceRows.find(function (row) {
      return address ? row.dataset.piece === address[1] : row.dataset.number.split("–")[0] === code.trim().toUpperCase();
    });
  }

  function scanned(code) {
    const row = rowOf(code);
    if (!row || row.dataset.sold === "yes") { say(fill(texts.textUnknown, { code: code })); return false; }
    if (!chosen.has(row.dataset.piece)) { toggle(row); }
    return true;
  }

  search.addEventListener("input", filterPieces);
  search.addEventListener("keydown", function (event) {
    const open = pieceRows.filter(function (row) { return !row.hidden; });
    if (event.key === "Enter" && open.length === 1) { toggle(open[0]); }
  });

  // ---- This sale --------------------------------------------------------------------------------------------------

  const chosen = new Map(); // number of the piece: {row, line}

  let latest = null, timer = 0; // the sale that the message can undo

  function say(words, key) {
    part("status").textContent = words;
    latest = key || null;
    part("undo").hidden = !latest;
    window.clearTimeout(timer);
    if (latest) { timer = window.setTimeout(function () { part("undo").hidden = true; }, UNDO_MS); }
  }

  async function undo(key) {
    const sale = (await sales.all()).find(function (each) { return each.key === key; });
    await sales.undo(key);
    say(sale ? fill(texts.textUndone, { pieces: titlesOf(sale) }) : "");
  }

  function titlesOf(sale) { return sale.pieces.map(function (each) { return each.title; }).join(", "); }

  function priceOf(each) { return money.read(each.line.querySelector("[data-line-price]").value); }

  function total() {
    const prices = Array.from(chosen.values(), priceOf);
    return prices.some(function (price) { return !price; }) ? null : prices.reduce(function (sum, price) { return sum + price; }, 0);
  }

  function toggle(row) {
    const number = row.dataset.piece;
    if (chosen.has(number)) {
      chosen.get(number).line.remove();
      chosen.delete(number);
    } else {
      chosen.set(number, { row: row, line: newLine(row) });
      say("");
    }
    row.querySelector("button").setAttribute("aria-pressed", String(chosen.has(number)));
    ask("ways");
  }

  function newLine(row) {
    const line = part("line").content.firstElementChild.cloneNode(true);
    const price = line.querySelector("[data-line-price]"), floor = line.querySelector("[data-floor]");
    line.querySelector(".stall-line-title").textContent = row.dataset.title;
    price.value = row.dataset.price ? money.input(Number(row.dataset.price)) : "";
    price.setAttribute("aria-label", row.dataset.title);
    price.addEventListener("input", function () { ask("ways"); });
    line.querySelector("[data-remove]").addEventListener("click", function () { toggle(row); });
    if (floor) { floor.addEventListener("click", function () { hint(line.querySelector(".stall-floor"), row.dataset.piece); }); }
    part("lines").append(line);
    return line;
  }

  // Fetched when it is touched, shown for a moment and never kept: buyers can see the screen.
  async function hint(place, piece) {
    place.textContent = await floors(piece).catch(function () { return texts.textOffline; });
    window.setTimeout(function () { place.textContent = ""; }, HINT_MS);
  }

  // Whole coins of the server's "5.610000", the next one up: less would be below the lowest price.
  function coinsOf(amount) { return Math.ceil(Number(amount) * Math.pow(10, Number(texts.moneyPlaces)) - 1e-6); }

  async function floors(piece) {
    const answer = await fetch("/api/price-floors/" + piece + "/", { headers: { Accept: "application/json" } });
    const rows = await answer.json();
    const own = rows.filter(function (row) { return texts.channels.split(" ").includes(String(row.channel.id)); });
    return own.map(function (row) {
      return fill(texts.textFloor, { amount: money.text(coinsOf(row.floor)), channel: row.channel.name });
    }).join("; ");
  }

  // What the foot of the screen shows: the ways to pay, the cash given, or the card.
  function ask(panel) {
    const sum = total();
    part("sale").hidden = !chosen.size;
    part("total").textContent = sum === null ? "–" : money.text(sum);
    part("error").hidden = true;
    ["ways", "given", "by-card"].forEach(function (name) { part(name).hidden = name !== panel; });
    document.body.style.setProperty("--stall-foot", part("sale").offsetHeight + "px");
  }

  function pay(way) {
    const sum = total();
    if (sum === null) { complain(texts.textPrice); return; }
    if (way === "card") { ask("by-card"); part("paid").focus(); return; }
    const offers = [sum].concat(money.notes(sum)).map(function (amount) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button" + (amount === sum ? "" : " is-quiet");
      button.textContent = amount === sum ? fill(texts.textExact, { amount: money.text(amount) }) : money.text(amount);
      button.addEventListener("click", function () { finish("cash", amount); });
      return button;
    });
    part("notes").replaceChildren.apply(part("notes"), offers);
    part("amount").value = "";
    ask("given");
    offers[0].focus();
  }

  function complain(words) {
    part("error").textContent = words;
    part("error").hidden = false;
  }

  async function finish(way, given) {
    const sum = total();
    if (sum === null) { complain(texts.textPrice); return; }
    if (given !== null && given < sum) { complain(fill(texts.textMissing, { amount: money.text(sum - given) })); return; }
    const pieces = Array.from(chosen, function (pair) {
      return { piece: Number(pair[0]), title: pair[1].row.dataset.title, price: money.plain(priceOf(pair[1])) };
    });
    const lines = pieces.map(function (each) { return { piece: each.piece, price: each.price }; });
    const titles = titlesOf({ pieces: pieces });
    const key = await sales.add({ pieces: pieces, body: { lines: lines, paid_by: way }, total: sum, paidBy: way });
    Array.from(chosen.values()).forEach(function (each) { toggle(each.row); });
    const sold = fill(texts.textSold, { pieces: titles, amount: money.text(sum) });
    say(given > sum ? fill(texts.textChange, { amount: money.text(given - sum) }) + ". " + sold : sold, key);
    part("status").scrollIntoView({ block: "nearest" });
  }

  // ---- What was sold ----------------------------------------------------------------------------------------------

  function row(sale) {
    const item = part("sold-row").content.firstElementChild.cloneNode(true);
    const way = sale.paidBy === "card" ? texts.textCard : texts.textCash;
    item.firstElementChild.textContent = titlesOf(sale) + ", " + money.text(sale.total) + ", " + way;
    const words = {
      waiting: texts.textWaiting, sent: texts.textSent, refused: reason(sale.problem),
      undoing: texts.textUndoing, "not-undone": reason(sale.problem),
    };
    item.querySelector("[data-state]").textContent = words[sale.state];
    item.dataset.state = sale.state;
    item.querySelector("[data-refused]").hidden = sale.state !== "refused";
    const button = item.querySelector("[data-undo-row]");
    button.hidden = !["waiting", "sent"].includes(sale.state) || Date.now() - sale.at > UNDO_IN_LIST_MS;
    button.setAttribute("aria-label", button.textContent + ": " + titlesOf(sale));
    button.addEventListener("click", function () { undo(sale.key); });
    item.querySelector("[data-again]").addEventListener("click", function () { sales.again(sale.key); });
    item.querySelector("[data-forget]").addEventListener("click", function () { sales.forget(sale.key); });
    return item;
  }

  function reason(problem) { return problem ? problem.detail || problem.title : ""; }

  async function show() {
    const all = await sales.all();
    const gone = new Set();
    all.forEach(function (sale) {
      if (sale.state !== "refused" && sale.state !== "undoing") { sale.pieces.forEach(function (each) { gone.add(String(each.piece)); }); }
    });
    pieceRows.forEach(function (each) { each.dataset.sold = gone.has(each.dataset.piece) ? "yes" : "no"; });
    filterPieces();
    part("past").hidden = !all.length;
    part("sales").replaceChildren.apply(part("sales"), all.map(row));
  }

  // Drawn one after another: a change during drawing draws the list again.
  let drawing = Promise.resolve();
  function draw() { drawing = drawing.then(show).catch(function () { return null; }); }

  pieceRows.forEach(function (each) { each.querySelector("button").addEventListener("click", function () { toggle(each); }); });
  root.querySelectorAll("[data-pay]").forEach(function (button) {
    button.addEventListener("click", function () { pay(button.dataset.pay); });
  });
  root.querySelectorAll("[data-back]").forEach(function (button) {
    button.addEventListener("click", function () { ask("ways"); });
  });
  part("undo").addEventListener("click", function () { if (latest) { undo(latest); } });
  part("paid").addEventListener("click", function () { finish("card", null); });
  part("take").addEventListener("click", function () {
    const given = money.read(part("amount").value);
    if (given !== null) { finish("cash", given); }
  });
  document.addEventListener("meniscus-offline", draw);
  window.meniscusStallScan(root, scanned, say);
  sales.tidy().then(draw).then(function () { return offline.keepPage(); }).catch(function () { return false; });
})();
