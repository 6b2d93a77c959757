/* The bench view: one step at a time, one touch for what happened to a surface. Every touch is on the device before the
   next one can be made (studio/offline.js), so neither sleep, reload nor a dead battery loses any of them. At the end
   they are sent under a key that was made with the first one: sent twice, they are posted once.

   What the touches come to is in bench_touches.js, the timers in bench_timers.js, what became of it all in
   bench_outcome.js. What is kept, under the name "bench." and the plan's number:
   {key, begun, document, html, touches: [{what, pour | cup, quantity}], step, leftover, minutes, ends, isSent, over}  */
(function () {
  "use strict";

  const root = document.querySelector("[data-bench]");
  if (!root) { return; }
  const texts = JSON.parse(root.dataset.texts);
  const offline = window.meniscusOffline, sums = window.meniscusTouches;
  const fresh = JSON.parse(root.dataset.bench); // as the server has it now
  const name = "bench." + fresh.plan;
  const list = root.querySelector("[data-steps]"), controls = root.querySelector("[data-controls]");
  const outcome = root.querySelector("[data-outcome]"), notices = root.querySelector("[data-notices]");
  const panel = root.querySelector("[data-spill-panel]");
  let kept = null, shown = 0, queued = null;
  const timers = window.meniscusTimers({
    root: root, texts: texts, offline: offline, alter: alter,
    step: function () { return steps()[shown]; }, record: function () { return kept; },
  });

  function part(selector, place) { return (place || root).querySelector(selector); }

  function parts(selector, place) { return Array.from((place || root).querySelectorAll(selector)); }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID needs a secure address, this does not
    return "bench-" + Array.from(bytes, function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
  }

  function plan() { return kept ? kept.document : fresh; }

  function stateNow() { return sums.follow(plan(), kept ? kept.touches : []); }

  // ---- On the device ----------------------------------------------------------------------------------------------

  function begin() {
    return {
      key: newKey(), begun: Date.now(), document: fresh, html: list.innerHTML, touches: [], step: 0,
      leftover: "kept", minutes: null, ends: {}, isSent: false,
    };
  }

  function isStale(record) { return record.document.version !== fresh.version; }

  // Without a touch yet a bench begins anew with what the plan says now; with one it goes on as it was begun.
  function latest(record) {
    if (!record || (fresh.work && !record.isSent && !record.touches.length && isStale(record))) { return begin(); }
    return record;
  }

  async function alter(make) {
    kept = await offline.update(name, function (now) {
      const record = latest(now);
      make(record);
      return record;
    });
    show();
  }

  function touch(what) {
    const pour = Number(steps()[shown].dataset.pour);
    return alter(function (record) {
      const isDone = record.touches.some(function (each) { return each.pour === pour; });
      if (isDone || record.isSent) { return; }
      record.touches.push({ what: what, pour: pour, at: Date.now() });
      record.step = Math.min(shown + 1, steps().length - 1);
    }).then(function () { go(kept.step); timers.tick(); });
  }

  function spill(cup, quantity) {
    return alter(function (record) {
      if (!record.isSent) { record.touches.push({ what: "spilled", cup: cup, quantity: quantity, at: Date.now() }); }
    });
  }

  function undo() {
    let last = null;
    return alter(function (record) { last = record.isSent ? null : record.touches.pop(); }).then(function () {
      if (last && last.what !== "spilled") {
        go(steps().findIndex(function (step) { return Number(step.dataset.pour) === last.pour; }));
      }
    });
  }

  // ---- One step at a time -----------------------------------------------------------------------------------------

  function steps() { return parts(".bench-step", list); }

  function go(number, isQuiet) {
    const all = steps();
    if (!all.length) { return; }
    shown = Math.max(0, Math.min(number, all.length - 1));
    panel.hidden = true;
    if (!isQuiet && window.location.hash !== "#" + all[shown].id) { history.pushState(null, "", "#" + all[shown].id); }
    show();
    const head = part("h2", all[shown]);
    if (!isQuiet) { head.focus({ preventScroll: true }); window.scrollTo(0, 0); }
    document.title = head.textContent.replace(/\s+/g, " ").trim() + " · " + plan().name;
  }

  function stepInAddress() {
    return steps().findIndex(function (step) { return "#" + step.id === window.location.hash; });
  }

  function show() {
    const all = steps(), isOpen = all.length > 0 && !(kept && kept.isSent);
    const state = plan().work ? stateNow() : null;
    list.hidden = !isOpen;
    controls.hidden = !isOpen;
    part("[data-progress]").hidden = !isOpen;
    showOutcome(state);
    part("[data-count]", document).textContent = isOpen ? sums.filled(texts.step, { n: shown + 1, all: all.length }) : "";
    if (!isOpen) { return; }
    all.forEach(function (step, place) {
      step.hidden = place !== shown;
      if (place === shown) { step.setAttribute("aria-current", "step"); } else { step.removeAttribute("aria-current"); }
    });
    part("[data-progress]").max = all.length - 1;
    part("[data-progress]").value = shown;
    part("[data-go=back]", controls).disabled = shown === 0;
    part("[data-go=next]", controls).hidden = shown === all.length - 1;
    part("[data-log]", controls).hidden = shown < all.length - 1;
    part("[data-log]", controls).disabled = !(kept && kept.touches.length);
    showPour(all[shown], state);
    showFinish(all[all.length - 1], state);
    timers.show();
  }

  function showPour(step, state) {
    const touches = part("[data-touches]"), isPour = step.dataset.kind === "pour";
    const isSpilling = isPour && !panel.hidden;
    touches.hidden = !isPour || isSpilling;
    panel.hidden = !isSpilling;
    part("[data-ways]", controls).hidden = isPour;
    parts("[data-undo]", step).forEach(showUndo);
    if (!isPour) { return; }
    const pour = Number(step.dataset.pour), done = state.done.get(pour);
    const doses = sums.dosesOf(plan(), pour, state.left);
    const total = doses.reduce(function (sum, dose) { return sum + dose.quantity; }, 0);
    if (done) { touches.hidden = panel.hidden = true; }
    part("[data-ways]", controls).hidden = !done;
    part("[data-ways]", step).hidden = Boolean(done);
    part("[data-touch=poured]").disabled = part("[data-touch=failed]").disabled = !done && !total;
    const badge = part("[data-state]", step);
    badge.hidden = !done && total > 0;
    badge.textContent = done ? texts[done] : texts.empty;
    badge.dataset.is = done || "empty";
    parts("[data-cup]", step).forEach(function (row) {
      const dose = doses.find(function (each) { return each.cup === Number(row.dataset.cup); });
      const place = part("[data-amount]", row);
      place.dataset.planned = place.dataset.planned || place.textContent;
      const isShort = !done && dose && dose.quantity < dose.wanted;
      place.textContent = !isShort ? place.dataset.planned
        : dose.quantity ? sums.filled(texts.left, { amount: sums.amount(plan(), dose.quantity, dose.cup) }) : texts.none;
      row.classList.toggle("is-short", Boolean(isShort));
    });
  }

  function showUndo(button) {
    const last = kept && kept.touches[kept.touches.length - 1];
    button.hidden = !last;
    if (last) { button.textContent = sums.filled(texts.undo, { what: inWords(last) }); }
  }

  function inWords(each) {
    if (each.what === "spilled") { return sums.spillInWords(plan(), each, texts); }
    const step = steps().find(function (one) { return Number(one.dataset.pour) === each.pour; });
    return (step ? part(".bench-what", step).textContent.trim() + ", " : "") + texts[each.what].toLocaleLowerCase();
  }

  function showFinish(step, state) {
    const link = part("[data-session-form]", step);
    if (link && kept) { link.href = formAddress(state); }
    part("[data-summary]", step).textContent = sums.summary(plan(), state, texts);
    part("[data-spilled]", step).textContent = sums.spillsInWords(plan(), state, texts);
    part("[data-minutes-shown]", step).textContent = sums.filled(texts.minutes, { n: sums.minutesWorked(kept) });
    parts("[name=leftover]", step).forEach(function (choice) {
      choice.checked = choice.value === (kept ? kept.leftover : "kept");
    });
  }

  // ---- Spilled: which cup, and about how much of it ---------------------------------------------------------------

  function bigButton(text, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button is-quiet";
    button.textContent = text;
    button.addEventListener("click", act);
    return button;
  }

  function ask(buttons) {
    const cancel = bigButton(texts.cancel, function () { panel.hidden = true; show(); });
    cancel.classList.add("is-plain");
    panel.replaceChildren.apply(panel, buttons.concat(cancel));
    panel.hidden = false;
    show();
    panel.firstChild.focus();
  }

  function askWhichCup() {
    const left = stateNow().left;
    ask(sums.cupsToSpill(plan(), left).map(function (cup) {
      return bigButton(sums.cupName(plan(), cup), function () { askHowMuch(cup, left[cup]); });
    }));
  }

  function askHowMuch(cup, left) {
    ask(sums.spillChoices(plan(), left, texts).map(function (choice) {
      return bigButton(choice[0] + ", " + sums.amount(plan(), choice[1], cup), function () {
        panel.hidden = true;
        spill(cup, choice[1]);
      });
    }));
  }

  // ---- Sent at the end --------------------------------------------------------------------------------------------

  async function log(more) {
    await alter(function (record) { record.isSent = true; });
    await offline.send({
      key: kept.key, url: kept.document.url, body: Object.assign(sums.body(kept), more), label: kept.document.name,
      back: kept.document.back,
    });
    await reread();
    part("[data-outcome-title]", outcome).focus();
  }

  function formAddress(now) {
    return kept.document.form + (now ? "&done=" + sums.doneByLine(plan(), now) : "");
  }

  function showOutcome(now) {
    outcome.hidden = !(kept && kept.isSent);
    if (outcome.hidden) { return; }
    const isSent = Boolean(queued) && queued.state === "sent";
    window.meniscusOutcome.show(outcome, texts, {
      queued: queued,
      summary: now ? [sums.summary(plan(), now, texts), sums.spillsInWords(plan(), now, texts)] : [],
      form: formAddress(now),
      isOpen: Boolean(fresh.work),
    });
    const stopped = part("[data-problem]");
    if (stopped) { stopped.hidden = isSent; }
  }

  async function takeBack() {
    await offline.drop(kept.key);
    await alter(function (record) { record.isSent = false; });
    go(steps().length - 1);
  }

  async function discard() {
    await offline.drop(kept.key);
    kept = null;
    await offline.update(name, function () { return undefined; });
    window.location.reload();
  }

  // The session is logged: the queue need not hold it any longer, but other tabs may still ask what became of it.
  async function settle() {
    const answer = queued.answer;
    await offline.update(name, function (now) {
      return now && now.key === kept.key ? Object.assign(now, { over: answer, html: "" }) : now;
    });
    await offline.drop(kept.key);
  }

  // ---- The screen stays on ----------------------------------------------------------------------------------------

  async function stayAwake() {
    if (document.hidden || !navigator.wakeLock) { return; }
    try { await navigator.wakeLock.request("screen"); } catch (refused) { /* low battery: the phone decides */ }
  }

  function say(text, kind) {
    const notice = document.createElement("p");
    notice.className = "bench-notice" + (kind ? " is-" + kind : "");
    notice.textContent = text;
    notices.append(notice);
  }

  function sayHowThingsAre() {
    notices.replaceChildren();
    if (!navigator.onLine) { say(texts.away, "away"); }
    if (!window.isSecureContext) { say(texts.insecure); }
    if (kept && kept.touches.length && fresh.work && isStale(kept) && !kept.isSent) {
      say(sums.filled(texts.changed, { time: new Date(kept.begun).toLocaleString() }));
    }
  }

  // ---- Beginning --------------------------------------------------------------------------------------------------

  async function reread() {
    const record = await offline.read(name);
    if (record) {
      kept = latest(record);
      queued = !kept.isSent ? null : kept.over ? { state: "sent", answer: kept.over } : await offline.entry(kept.key);
    }
    show();
    sayHowThingsAre();
  }

  function onTouch(event) {
    const button = event.target.closest("button");
    if (!button || button.disabled) { return; }
    const data = button.dataset, timer = button.closest("[data-timer]");
    if (data.touch) { touch(data.touch); }
    else if ("spill" in data) { askWhichCup(); }
    else if ("undo" in data) { undo(); }
    else if (data.go) { go(shown + (data.go === "next" ? 1 : -1)); remember(); }
    else if ("start" in data) { timers.start(timer); }
    else if (data.shift) { timers.shift(timer, Number(data.shift)); }
    else if (data.minutes) {
      const minutes = Math.max(0, sums.minutesWorked(kept) + Number(data.minutes));
      alter(function (record) { record.minutes = minutes; });
    } else if ("log" in data || "outcomeRetry" in data) {
      button.disabled = true;
      log().finally(function () { button.disabled = false; });
    }
    else if ("outcomeGain" in data || "outcomeConfirm" in data) { log(window.meniscusOutcome.confirmed(queued.problem)); }
    else if ("outcomeBack" in data) { takeBack(); }
    else if ("outcomeDiscard" in data) { discard(); }
  }

  function remember() { alter(function (record) { record.step = shown; }); }

  async function open() {
    if (!offline) { say(texts.unkept, "away"); go(0, true); return; }
    let record = await offline.read(name);
    if (record && record.over && fresh.work) { record = null; } // that session was reversed: the plan waits again
    kept = latest(record);
    if (!record) { await offline.update(name, function () { return kept; }); }
    if (kept && kept.html && (!fresh.work || isStale(kept))) { list.innerHTML = kept.html; } // as it was begun
    if (!fresh.work && !kept.isSent && !kept.touches.length) {
      kept = null;
      await offline.update(name, function () { return undefined; });
    }
    await timers.recall();
    if (!fresh.work && !kept) { list.hidden = true; return; }
    await reread();
    if (kept.isSent && !queued) { await log(); } // the phone died between the two
    go(stepInAddress() >= 0 ? stepInAddress() : kept.step, true);
    if (queued && queued.state === "sent" && !kept.over) { await settle(); }
    if (fresh.work) { offline.keepPage().catch(function () { return false; }); }
    stayAwake();
  }

  root.addEventListener("click", onTouch);
  root.addEventListener("change", function (event) {
    if (event.target.name === "leftover") {
      const value = event.target.value;
      alter(function (record) { record.leftover = value; });
    }
  });
  window.addEventListener("popstate", function () { const place = stepInAddress(); if (place >= 0) { go(place, true); } });
  document.addEventListener("meniscus-offline", function () { if (kept) { reread(); } });
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden && offline) { stayAwake(); if (kept) { reread(); } }
  });
  ["online", "offline"].forEach(function (kind) { window.addEventListener(kind, sayHowThingsAre); });
  open();
})();
