/* What is to pay, and the change, while one types. Nothing of it is sent: the server works the sale out by itself.
   form[data-till]        with data-places (decimals of the currency), data-comma, data-sample (a thousand units as the studio
                         writes them); data-paid-before (what was paid for each commission, in minor units)
   [data-till-result]     holds [data-total], [data-change] in [data-change-row], [data-short] in [data-short-row]  */
(function () {
  "use strict";

  const form = document.querySelector("form[data-till]");
  if (!form) { return; }
  const places = Number(form.dataset.places), hasComma = form.dataset.comma === "yes";
  const paidBefore = JSON.parse(form.dataset.paidBefore || "{}");
  const result = form.querySelector("[data-till-result]");
  const money = window.meniscusStallSums(form.dataset.sample, places);

  // In whole minor units; what cannot be read as an amount makes the whole unknown.
  function amountIn(field) {
    const text = field.value.trim().replace(/[\s'’]/g, "");
    if (!text) { return 0; }
    const plain = hasComma ? text.replace(/\./g, "").replace(",", ".") : text.replace(/,/g, "");
    return /^\d+(\.\d+)?$/.test(plain) ? Math.round(Number(plain) * 10 ** places) : NaN;
  }

  function sum(selector) {
    return Array.from(form.querySelectorAll(selector)).reduce(function (total, field) {
      return total + amountIn(field);
    }, 0);
  }

  function before() {
    const chosen = form.querySelector("[name=commission]");
    return chosen ? paidBefore[chosen.value] || 0 : 0;
  }

  function put(name, units) {
    result.querySelector("[data-" + name + "]").textContent = (units < 0 ? "−" : "") + money.text(Math.abs(units));
  }

  function tell() {
    const total = sum("[name^=lines-][name$=-price]") + sum("[name=postage]")
      - sum("[name^=lines-][name$=-discount]") - sum("[name=discount]") - before();
    const cash = sum("[name=cash]");
    result.hidden = false;
    if (Number.isNaN(total)) {
      result.querySelector("[data-total]").textContent = "–";
      result.querySelectorAll("[data-change-row], [data-short-row]").forEach(function (row) { row.hidden = true; });
      return;
    }
    put("total", total);
    result.querySelector("[data-change-row]").hidden = !(cash >= total && cash > 0);
    result.querySelector("[data-short-row]").hidden = !(cash > 0 && cash < total);
    put("change", cash - total);
    put("short", total - cash);
  }

  form.addEventListener("input", tell);
  tell();
})();
