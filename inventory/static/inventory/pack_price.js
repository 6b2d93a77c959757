/* The price of an ordered line follows the packs that came, until somebody types another. Without this file it is typed.
   input[name$=-price][data-for-packs="2"]   the price that was ordered, and for how many packs                         */
(function () {
  "use strict";

  // Whole pence: "33.60" for 2 packs is 16.80 for one.
  function priceOf(ordered, packs, wanted) {
    const found = /^(\d+)(?:([.,])(\d+))?$/.exec(ordered);
    if (!found) { return ordered; }
    const decimals = (found[3] || "").length;
    const whole = Math.round(Number(found[1] + (found[3] || "")) * wanted / packs);
    const digits = String(whole).padStart(decimals + 1, "0");
    return decimals ? digits.slice(0, -decimals) + found[2] + digits.slice(-decimals) : digits;
  }

  document.querySelectorAll("input[data-for-packs]").forEach(function (price) {
    const packs = price.form.elements[price.name.replace(/price$/, "packs")];
    const ordered = price.defaultValue;
    let shown = ordered;
    packs.addEventListener("input", function () {
      const wanted = Number(packs.value);
      if (price.value !== shown || !(wanted > 0)) { return; }
      shown = priceOf(ordered, Number(price.dataset.forPacks), wanted);
      price.value = shown;
    });
  });
})();
