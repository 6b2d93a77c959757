/* What the touches at the bench come to: the arithmetic of inventory/bench/calculations.py, and the words for it.
   It knows no page and keeps nothing: everything comes out of what it is given.

   plan     {work: {lines: [{count, doses: [{cup, quantity}]}]}, cups: [{label, name, total, unit}], comma, ...}
            (inventory/bench/views/bench.py); quantities in thousandths of a mL or g
   touches  [{what: poured | failed, pour, at} or {what: spilled, cup, quantity, at}], in their order
   state    what `follow` makes of them: {left: [quantity], done: Map(pour, what), spilled: [{cup, quantity}]}
   Pours and cups are counted from 0 here; the plan's doses, and what is sent, count them from 1.                    */
(function () {
  "use strict";

  const TENTH = 100, MINUTE_MS = 60000, MOST_MINUTES = 600;

  function filled(text, values) {
    return text.replace(/\{(\w+)\}/g, function (place, key) { return key in values ? values[key] : place; });
  }

  // What each surface takes, one after another.
  function pours(plan) {
    return plan.work.lines.flatMap(function (line) { return Array(line.count).fill(line.doses); });
  }

  // What one surface takes of what is left.
  function dosesOf(plan, pour, left) {
    return pours(plan)[pour].map(function (dose) {
      return { cup: dose.cup - 1, quantity: Math.min(dose.quantity, left[dose.cup - 1]), wanted: dose.quantity };
    });
  }

  function follow(plan, touches) {
    const state = { left: plan.cups.map(function (cup) { return cup.total; }), done: new Map(), spilled: [] };
    touches.forEach(function (touch) {
      if (touch.what === "spilled") {
        const quantity = Math.min(touch.quantity, state.left[touch.cup]);
        state.left[touch.cup] -= quantity;
        state.spilled.push({ cup: touch.cup, quantity: quantity });
        return;
      }
      dosesOf(plan, touch.pour, state.left).forEach(function (dose) { state.left[dose.cup] -= dose.quantity; });
      state.done.set(touch.pour, touch.what);
    });
    return state;
  }

  // Cups that something can be spilled from: jugs go into the cups before anything is poured.
  function cupsToSpill(plan, left) {
    const poured = new Set(pours(plan).flat().map(function (dose) { return dose.cup - 1; }));
    return Array.from(left.keys()).filter(function (cup) { return left[cup] > 0 && poured.has(cup); });
  }

  // How much may have been spilled, to choose from: [what it is called, quantity], down to tenths.
  function spillChoices(plan, left, texts) {
    const parts = [
      [texts.splash, Math.min(plan.splash, left)], [texts.quarter, left / 4], [texts.half, left / 2], [texts.all, left],
    ];
    return parts.map(function (choice) {
      const inTenths = Math.max(TENTH, Math.floor(choice[1] / TENTH) * TENTH);
      return [choice[0], choice[1] === left ? left : Math.min(inTenths, left)];
    });
  }

  // How many of each line were poured, and how many of those failed, for the session form: "3.1,2.0".
  function doneByLine(plan, state) {
    let first = 0;
    return plan.work.lines.map(function (line) {
      const touched = Array.from({ length: line.count }, function (none, place) { return state.done.get(first + place); });
      first += line.count;
      const done = touched.filter(Boolean);
      return done.length + "." + done.filter(function (what) { return what === "failed"; }).length;
    }).join(",");
  }

  // From opening the bench to the last touch, up to five minutes, unless she has set it.
  function minutesWorked(record) {
    if (!record || !record.touches.length) { return 0; }
    if (record.minutes !== null) { return record.minutes; }
    const last = record.touches[record.touches.length - 1].at;
    return Math.min(MOST_MINUTES, Math.ceil((last - record.begun) / MINUTE_MS / 5) * 5);
  }

  // What is sent: see BenchRequest in inventory/bench/api.py.
  function body(record) {
    return {
      plan: record.document.plan, held_on: record.document.day, minutes: minutesWorked(record),
      leftover: record.leftover, work: record.document.work,
      touches: record.touches.map(function (touch) {
        return touch.what === "spilled" ? { what: touch.what, cup: touch.cup + 1, quantity: touch.quantity }
          : { what: touch.what, pour: touch.pour + 1 };
      }),
    };
  }

  // ---- In words ---------------------------------------------------------------------------------------------------

  function amount(plan, quantity, cup) {
    const number = (Math.round(quantity / TENTH) / 10).toFixed(1).replace(/\.0$/, "");
    return (plan.comma ? number.replace(".", ",") : number) + "\u00a0" + plan.cups[cup].unit;
  }

  function cupName(plan, cup) { return plan.cups[cup].label + " " + plan.cups[cup].name; }

  function spillInWords(plan, spill, texts) {
    return filled(texts.spilled, { amount: amount(plan, spill.quantity, spill.cup), cup: cupName(plan, spill.cup) });
  }

  function spillsInWords(plan, state, texts) {
    return state.spilled.map(function (spill) { return spillInWords(plan, spill, texts); }).join("; ");
  }

  function summary(plan, state, texts) {
    const done = Array.from(state.done.values());
    return filled(texts.done, {
      poured: done.filter(function (what) { return what === "poured"; }).length,
      failed: done.filter(function (what) { return what === "failed"; }).length,
      left: pours(plan).length - done.length,
    });
  }

  window.meniscusTouches = {
    filled: filled, follow: follow, dosesOf: dosesOf, cupsToSpill: cupsToSpill, spillChoices: spillChoices,
    doneByLine: doneByLine, minutesWorked: minutesWorked, body: body, amount: amount, cupName: cupName,
    spillInWords: spillInWords, spillsInWords: spillsInWords, summary: summary,
  };
})();
