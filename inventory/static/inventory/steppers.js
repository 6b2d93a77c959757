/* A minus and a plus beside an amount or a count; the arrow keys do the same inside an amount.
   input[data-stepper]                 a field that gets the two buttons
   form[data-words-less][…-more]       what they are called: "{field}: less"
   input[data-step-from="1"]           what an empty amount begins with; else its placeholder, else 10 ml
   input[data-step-by="5"]             the step of a whole number
   input[data-decimal-comma]           one and a half is written 1,5
   The unit stays as it was typed, and so does everything that cannot be read as a number with a unit.          */
(function () {
  "use strict";

  const form = document.querySelector("form[data-words-less]");
  if (!form) { return; }
  const words = form.dataset;
  const LONG_PRESS_MS = 450, REPEAT_MS = 110;
  const VULGAR = { "½": 500, "⅓": 333, "⅔": 667, "¼": 250, "¾": 750, "⅛": 125, "⅜": 375, "⅝": 625, "⅞": 875 };
  const WHOLE_UNITS = /^(each|dozen|drops?|splash(es)?|tropfen|spritzer)?$/i;
  const MOST = 9e12; // thousandths: beyond this the books hold no amount either

  // Thousandths, as the books count, so that 0.1 and 0.2 come to 0.3.
  function read(text, comma) {
    const said = text.replace(/[\s\u00a0]+/g, " ").trim();
    const fraction = said.match(/^(?:(\d+) )?(\d+) ?[/⁄] ?(\d+) ?(\D*)$/u);
    const vulgar = said.match(/^(\d+)? ?([½⅓⅔¼¾⅛⅜⅝⅞]) ?(\D*)$/u);
    const decimal = said.match(/^([\d.,][\d., ]*)(\D*)$/u);
    if (fraction) {
      return known(Number(fraction[1] || 0) + Number(fraction[2]) / Number(fraction[3]), fraction[4]);
    }
    if (vulgar) { return known(Number(vulgar[1] || 0) + VULGAR[vulgar[2]] / 1000, vulgar[3]); }
    if (!decimal) { return null; }
    const digits = comma ? decimal[1].replace(/[. ]/g, "").replace(",", ".") : decimal[1].replace(/[, ]/g, "");
    return /^(\d+\.?\d*|\.\d+)$/.test(digits) ? known(Number(digits), decimal[2]) : null;
  }

  function known(value, unit) {
    const thousandths = Math.round(value * 1000);
    return Number.isFinite(thousandths) ? { value: thousandths, unit: unit.trim() } : null;
  }

  function write(value, unit, comma) {
    const number = (value / 1000).toFixed(3).replace(/\.?0+$/, "");
    return (comma ? number.replace(".", ",") : number) + (unit ? " " + unit : "");
  }

  // About a twentieth of what is there, in round figures: 300 ml goes by 10, half a litre by a tenth of one.
  function stepAt(value, unit) {
    const steps = [[1e6, 50000], [1e5, 10000], [20000, 5000], [2000, 1000], [200, 100]];
    const found = steps.find(function (pair) { return value >= pair[0]; });
    const step = found ? found[1] : 10;
    return WHOLE_UNITS.test(unit) ? Math.max(1000, step) : step;
  }

  function stepped(value, unit, way) {
    const step = stepAt(way < 0 ? value - 1 : value, unit);
    const next = way > 0 ? (Math.floor(value / step) + 1) * step : (Math.ceil(value / step) - 1) * step;
    return Math.min(Math.max(next, 0), MOST);
  }

  function tell(field, type) { field.dispatchEvent(new Event(type, { bubbles: true })); }

  function stepAmount(field, way) {
    const comma = "decimalComma" in field.dataset;
    const empty = !field.value.trim();
    const found = read(empty ? field.dataset.stepFrom || field.placeholder || "10 ml" : field.value, comma);
    if (!found) { return false; }
    const value = empty ? (way > 0 ? found.value : 0) : stepped(found.value, found.unit, way);
    field.value = write(value, found.unit, comma);
    return true;
  }

  function stepCount(field, way) {
    const by = Number(field.dataset.stepBy || 1);
    const value = Math.floor(Number(field.value) || 0);
    const next = way > 0 ? (Math.floor(value / by) + 1) * by : (Math.ceil(value / by) - 1) * by;
    const least = field.min === "" ? -Infinity : Number(field.min);
    const most = field.max === "" ? Infinity : Number(field.max);
    field.value = String(Math.min(Math.max(next, least), most));
    return true;
  }

  function step(field, way) {
    const done = field.type === "number" ? stepCount(field, way) : stepAmount(field, way);
    if (done) { tell(field, "input"); }
    return done;
  }

  // ---- The buttons: left out of the tabbing order, as a browser's own are ------------------------------------------

  function called(field, words) {
    const label = document.querySelector('label[for="' + CSS.escape(field.id) + '"]');
    const name = label ? label.firstChild.textContent.trim() : "";
    return words.replace("{field}", function () { return name; });
  }

  function button(field, way, sign, words) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "stepper-button";
    made.tabIndex = -1;
    made.dataset.step = way;
    made.setAttribute("aria-label", called(field, words));
    made.textContent = sign;
    return made;
  }

  function rename(field) {
    field.parentElement.querySelectorAll("[data-step]").forEach(function (button) {
      const isLess = button.dataset.step === "-1";
      button.setAttribute("aria-label", called(field, isLess ? words.wordsLess : words.wordsMore));
    });
  }

  function dress(place) {
    place.querySelectorAll("input[data-stepper]").forEach(function (field) {
      if (field.parentElement.className === "stepper" || !field.form) { return; }
      const around = document.createElement("span");
      const isFocused = document.activeElement === field;
      around.className = "stepper";
      field.replaceWith(around);
      around.append(
        button(field, "-1", "\u2212", words.wordsLess), field, button(field, "1", "+", words.wordsMore));
      if (isFocused) { field.focus(); }
    });
  }

  function fieldOf(button) { return button.closest(".stepper").querySelector("input"); }

  // A tap is one step, and only once the finger is off again: one that begins to scroll here changes nothing.
  // A finger that stays steps on; the parts of a cup are worked out once it lets go.
  let held = null, wasHeld = false;

  function letGo() {
    if (!held) { return; }
    window.clearTimeout(held.timer);
    if (held.done) { tell(held.field, "change"); }
    wasHeld = held.done;
    held = null;
  }

  function again() {
    held.done = step(held.field, held.way) || held.done;
    held.timer = window.setTimeout(again, REPEAT_MS);
  }

  document.addEventListener("pointerdown", function (event) {
    const button = event.target.closest("[data-step]");
    wasHeld = false;
    if (!button || event.button !== 0) { return; }
    letGo();
    held = { field: fieldOf(button), way: Number(button.dataset.step), done: false, timer: 0 };
    held.timer = window.setTimeout(again, LONG_PRESS_MS);
  });
  ["pointerup", "pointercancel", "blur"].forEach(function (end) { window.addEventListener(end, letGo); });
  document.addEventListener("contextmenu", function (event) {
    if (event.target.closest("[data-step]")) { event.preventDefault(); }
  });

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-step]");
    if (!button || wasHeld) { return; }
    if (step(fieldOf(button), Number(button.dataset.step))) { tell(fieldOf(button), "change"); }
  });

  document.addEventListener("keydown", function (event) {
    const field = event.target;
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    const isOther = event.altKey || event.ctrlKey || event.metaKey || event.shiftKey;
    if (!way || isOther || field.localName !== "input" || field.type === "number") { return; }
    if (field.closest(".stepper") && step(field, way)) { event.preventDefault(); }
  });
  dress(form);
  new MutationObserver(function (changes) { // rows that are added, parts that are worked out, a field called otherwise
    changes.forEach(function (change) {
      const field = change.target.localName === "label" && change.target.control;
      if (field && field.parentElement.className === "stepper") { rename(field); }
      change.addedNodes.forEach(function (node) { if (node.querySelectorAll) { dress(node); } });
    });
  }).observe(form, { childList: true, subtree: true });
})();
