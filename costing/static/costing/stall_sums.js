/* Money on the selling screen, in coins (pence, cents): written as the studio writes it, read as it is typed.

   meniscusStallSums(sample, places)   sample: a thousand units as the studio writes them, "£1,000.00"
     .text(coins), .input(coins)       for reading; for a field
     .read(text)                       coins, or null
     .plain(coins)                     "45.00", for the server
     .notes(total)                     amounts that a buyer is likely to give, the lowest first                       */
window.meniscusStallSums = function (sample, places) {
  "use strict";

  const found = sample.match(/\d.*\d/)[0];
  const before = sample.slice(0, sample.indexOf(found)), after = sample.slice(before.length + found.length);
  const decimal = places ? found[found.length - places - 1] : "";
  const group = /\d/.test(found[1]) ? "" : found[1];
  const unit = Math.pow(10, places);
  const NOTES = [5, 10, 20, 50, 100, 200];

  function split(coins) {
    const digits = String(coins).padStart(places + 1, "0");
    return [digits.slice(0, digits.length - places), digits.slice(digits.length - places)];
  }

  function written(coins, mark) {
    const parts = split(coins);
    const whole = parts[0].replace(/\B(?=(\d{3})+$)/g, mark);
    return places ? whole + decimal + parts[1] : whole;
  }

  function read(text) {
    const kept = text.replace(/[^\d.,]/g, "");
    const last = Math.max(kept.lastIndexOf("."), kept.lastIndexOf(","));
    const tail = last < 0 ? "" : kept.slice(last + 1);
    const isFraction = last >= 0 && tail.length > 0 && tail.length <= places;
    const whole = (isFraction ? kept.slice(0, last) : kept).replace(/[.,]/g, "");
    if (!whole && !isFraction || whole.length > 9 || /-/.test(text)) { return null; }
    return Number(whole || "0") * unit + (isFraction ? Number(tail.padEnd(places, "0")) : 0);
  }

  function notes(total) {
    const likely = NOTES.map(function (note) { return Math.ceil(total / (note * unit)) * note * unit; });
    return Array.from(new Set(likely)).filter(function (amount) { return amount > total; })
      .sort(function (one, other) { return one - other; }).slice(0, 3);
  }

  return {
    text: function (coins) { return before + written(coins, group) + after; },
    input: function (coins) { return written(coins, ""); },
    plain: function (coins) { const parts = split(coins); return places ? parts.join(".") : parts[0]; },
    read: read,
    notes: notes,
  };
};
