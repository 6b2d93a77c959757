/* The bench view: one step at a time, one touch for what happened to a surface. Every touch is on the device before the
   next one can be made (studio/offline.js), so neither sleep, reload nor a dead battery loses any of them. At the end
   they are sent under a key that was made with the first one: sent twice, they are posted once.

   What is kept, under the name "bench." and the plan's number:
   {key, begun, document, html, touches: [{what, pour | cup, quantity}], step, leftover, minutes, ends, isSent, over}  */
(function () {
  "use strict";

  const root = document.querySelector("[data-bench]");
  if (!root) { return; }
  const texts = JSON.parse(root.dataset.texts);
  const offline = window.meniscusOffline;
  const fresh = JSON.parse(root.dataset.bench); // as the server has it now
  const name = "bench." + fresh.plan;
  const list = root.querySelector("[data-steps]"), controls = root.querySelector("[data-controls]");
  const outcome = root.querySelector("[data-outcome]"), notices = root.querySelector("[data-notices]");
  const panel = root.querySelector("[data-spill-panel]");
  const TENTH = 100, MINUTE_MS = 60000;
  let kept = null, shown = 0, queued = null;

  function filled(text, values) {
    return text.replace(/\{(\w+)\}/g, function (place, key) { return key in values ? values[key] : place; });
  }

  function part(selector, place) { return (place || root).querySelector(selector); }

  function parts(selector, place) { return Array.from((place || root).querySelectorAll(selector)); }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID needs a secure address, this does not
    return "bench-" + Array.from(bytes, function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
  }

  // ---- What the touches come to: the same arithmetic as in inventory/bench/calculations.py ------------------------

  function plan() { return kept ? kept.document : fresh; }

  function pours() {
    return plan().work.lines.flatMap(function (line) { return Array(line.count).fill(line.doses); });
  }

  function follow(touches) {
    const result = { left: plan().cups.map(function (cup) { return cup.total; }), done: new Map(), spilled: [] };
    touches.forEach(function (touch) {
      if (touch.what === "spilled") {
        const quantity = Math.min(touch.quantity, result.left[touch.cup]);
        result.left[touch.cup] -= quantity;
        result.spilled.push({ cup: touch.cup, quantity: quantity });
        return;
      }
      dosesOf(touch.pour, result.left).forEach(function (dose) { result.left[dose.cup] -= dose.quantity; });
      result.done.set(touch.pour, touch.what);
    });
    return result;
  }

  function dosesOf(pour, left) {
    return pours()[pour].map(function (dose) {
      return { cup: dose.cup - 1, quantity: Math.min(dose.quantity, left[dose.cup - 1]), wanted: dose.quantity };
    });
  }

  function amount(quantity, cup) {
    const number = (Math.round(quantity / TENTH) / 10).toFixed(1).replace(/\.0$/, "");
    return (plan().comma ? number.replace(".", ",") : number) + "\u00a0" + plan().cups[cup].unit;
  }

  function cupName(cup) { return plan().cups[cup].label + " " + plan().cups[cup].name; }

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
    }).then(function () { go(kept.step); tick(); });
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
    const state = plan().work ? follow(kept ? kept.touches : []) : null;
    list.hidden = !isOpen;
    controls.hidden = !isOpen;
    part("[data-progress]").hidden = !isOpen;
    showOutcome(state);
    part("[data-count]", document).textContent = isOpen ? filled(texts.step, { n: shown + 1, all: all.length }) : "";
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
    showTimers();
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
    const doses = dosesOf(pour, state.left), total = doses.reduce(function (sum, dose) { return sum + dose.quantity; }, 0);
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
        : dose.quantity ? filled(texts.left, { amount: amount(dose.quantity, dose.cup) }) : texts.none;
      row.classList.toggle("is-short", Boolean(isShort));
    });
  }

  function showUndo(button) {
    const last = kept && kept.touches[kept.touches.length - 1];
    button.hidden = !last;
    if (last) { button.textContent = filled(texts.undo, { what: inWords(last) }); }
  }

  function inWords(each) {
    if (each.what === "spilled") {
      return filled(texts.spilled, { amount: amount(each.quantity, each.cup), cup: cupName(each.cup) });
    }
    const step = steps().find(function (one) { return Number(one.dataset.pour) === each.pour; });
    return (step ? part(".bench-what", step).textContent.trim() + ", " : "") + texts[each.what].toLocaleLowerCase();
  }

  function summary(state) {
    const poured = Array.from(state.done.values());
    return filled(texts.done, {
      poured: poured.filter(function (what) { return what === "poured"; }).length,
      failed: poured.filter(function (what) { return what === "failed"; }).length,
      left: pours().length - poured.length,
    });
  }

  function spillsInWords(state) {
    return state.spilled.map(function (each) {
      return filled(texts.spilled, { amount: amount(each.quantity, each.cup), cup: cupName(each.cup) });
    }).join("; ");
  }

  // How many of each line were poured, and how many of those failed, for the session form.
  function doneByLine(state) {
    let first = 0;
    return plan().work.lines.map(function (line) {
      const touched = Array.from({ length: line.count }, function (none, place) { return state.done.get(first + place); });
      first += line.count;
      const done = touched.filter(Boolean);
      return done.length + "." + done.filter(function (what) { return what === "failed"; }).length;
    }).join(",");
  }

  function minutesWorked() {
    if (!kept || !kept.touches.length) { return 0; }
    if (kept.minutes !== null) { return kept.minutes; }
    const last = kept.touches[kept.touches.length - 1].at;
    return Math.min(600, Math.ceil((last - kept.begun) / MINUTE_MS / 5) * 5);
  }

  function showFinish(step, state) {
    part("[data-summary]", step).textContent = summary(state);
    part("[data-spilled]", step).textContent = spillsInWords(state);
    part("[data-minutes-shown]", step).textContent = filled(texts.minutes, { n: minutesWorked() });
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

  function isPouredFrom(cup) {
    return pours().some(function (doses) {
      return doses.some(function (dose) { return dose.cup === cup + 1; });
    });
  }

  function askWhichCup() {
    const left = follow(kept ? kept.touches : []).left;
    const cups = Array.from(left.keys()).filter(function (cup) { return left[cup] > 0 && isPouredFrom(cup); });
    ask(cups.map(function (cup) {
      return bigButton(cupName(cup), function () { askHowMuch(cup, left[cup]); });
    }));
  }

  function askHowMuch(cup, left) {
    const choices = [
      [texts.splash, Math.min(plan().splash, left)], [texts.quarter, left / 4], [texts.half, left / 2], [texts.all, left],
    ];
    ask(choices.map(function (choice) {
      const quantity = choice[1] === left ? left : Math.max(TENTH, Math.floor(choice[1] / TENTH) * TENTH);
      return bigButton(choice[0] + ", " + amount(quantity, cup), function () {
        panel.hidden = true;
        spill(cup, Math.min(quantity, left));
      });
    }));
  }

  // ---- Timers: they end at a time of day, so they go on while the phone sleeps ---------------------------------------

  function lengthOf(timer) { return Number(timer.dataset.timer) * 1000; }

  function clock(milliseconds) {
    const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
    return Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
  }

  function showTimers() {
    const step = steps()[shown], timer = step && part("[data-timer]", step);
    if (!timer) { return; }
    const end = kept && kept.ends[step.id];
    const rest = end ? end - Date.now() : lengthOf(timer);
    const isUp = Boolean(end) && rest <= 0;
    part("[data-clock]", timer).textContent = isUp ? texts.up : clock(rest);
    timer.classList.toggle("is-up", isUp);
    part("[data-start]", timer).textContent = end && !isUp ? texts.stop : texts.start;
    if (isUp && !timer.dataset.rung) { timer.dataset.rung = "yes"; ring(); }
    if (!isUp) { delete timer.dataset.rung; }
  }

  function startTimer(timer) {
    const id = steps()[shown].id;
    sound();
    alter(function (record) {
      const isRunning = record.ends[id] && record.ends[id] > Date.now();
      if (isRunning) { delete record.ends[id]; } else { record.ends[id] = Date.now() + lengthOf(timer); }
    });
  }

  function shiftTimer(timer, seconds) {
    const id = steps()[shown].id, end = kept && kept.ends[id];
    if (end && end > Date.now()) {
      alter(function (record) { record.ends[id] = Math.max(Date.now(), record.ends[id] + seconds * 1000); });
    } else {
      const length = Math.max(30, Number(timer.dataset.timer) + seconds), kind = steps()[shown].dataset.kind;
      parts("[data-kind=" + kind + "] [data-timer]").forEach(function (each) { each.dataset.timer = String(length); });
      offline.update("bench-timers", function (now) { return Object.assign(now || {}, { [kind]: length }); });
      if (end) { alter(function (record) { delete record.ends[id]; }); } else { showTimers(); }
    }
  }

  let audio = null;

  function sound() { // browsers let a page make a sound only after a touch
    const Audio = window.AudioContext || window.webkitAudioContext;
    if (!audio && Audio) { audio = new Audio(); }
  }

  function ring() {
    tick([200, 100, 200]);
    if (!audio) { return; }
    [0, 0.35, 0.7].forEach(function (delay) {
      const tone = audio.createOscillator(), volume = audio.createGain(), at = audio.currentTime + delay;
      tone.frequency.value = 880;
      volume.gain.setValueAtTime(0.25, at);
      volume.gain.exponentialRampToValueAtTime(0.001, at + 0.3);
      tone.connect(volume).connect(audio.destination);
      tone.start(at);
      tone.stop(at + 0.3);
    });
  }

  function tick(pattern) { if (navigator.vibrate) { navigator.vibrate(pattern || 40); } }

  // ---- Sent at the end --------------------------------------------------------------------------------------------

  function body(record) {
    return {
      plan: record.document.plan, held_on: record.document.day, minutes: minutesWorked(), leftover: record.leftover,
      work: record.document.work,
      touches: record.touches.map(function (each) {
        return each.what === "spilled" ? { what: each.what, cup: each.cup + 1, quantity: each.quantity }
          : { what: each.what, pour: each.pour + 1 };
      }),
    };
  }

  async function log(more) {
    await alter(function (record) { record.isSent = true; });
    await offline.send({
      key: kept.key, url: kept.document.url, body: Object.assign(body(kept), more), label: kept.document.name,
      back: kept.document.back,
    });
    await reread();
    part("[data-outcome-title]", outcome).focus();
  }

  function showOutcome(state) {
    outcome.hidden = !(kept && kept.isSent);
    if (outcome.hidden) { return; }
    const sent = queued && queued.state === "sent", refused = queued && queued.state === "refused";
    const problem = refused ? queued.problem : {};
    const title = sent ? texts.sent : !refused ? texts.waiting
      : problem.shortfalls ? texts.short : problem.questions ? texts.check : problem.detail;
    part("[data-outcome-title]", outcome).textContent = title;
    part("[data-outcome-summary]", outcome).textContent = [state && summary(state), state && spillsInWords(state)]
      .filter(Boolean).join("; ");
    const asked = (problem.shortfalls ? [problem.detail] : [])
      .concat((problem.questions || []).map(function (each) { return each.question; }))
      .concat(problem.errors ? [JSON.stringify(problem.errors)] : []);
    const rows = asked.map(function (text) { const row = document.createElement("li"); row.textContent = text; return row; });
    part("[data-outcome-asked]", outcome).replaceChildren.apply(part("[data-outcome-asked]", outcome), rows);
    part("[data-outcome-asked]", outcome).hidden = !rows.length;
    const link = part("[data-outcome-session]", outcome), form = part("[data-outcome-form]", outcome);
    link.hidden = !sent;
    if (sent) { link.href = queued.answer.address; }
    form.hidden = !refused;
    form.href = kept.document.form + "&done=" + doneByLine(state);
    const isShort = refused && Boolean(problem.shortfalls);
    part("[data-outcome-gain]", outcome).hidden = !isShort;
    part("[data-outcome-confirm]", outcome).hidden = !(refused && problem.questions && !isShort);
    part("[data-outcome-retry]", outcome).hidden = Boolean(sent || refused);
    part("[data-outcome-back]", outcome).hidden = Boolean(sent || !fresh.work);
    part("[data-outcome-discard]", outcome).hidden = !refused;
    const stopped = part("[data-problem]");
    if (stopped) { stopped.hidden = Boolean(sent); }
  }

  function confirmed() {
    const tokens = (queued.problem.questions || []).map(function (each) { return each.token; });
    return { confirmed: tokens, confirm_gain: Boolean(queued.problem.shortfalls) };
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
      say(filled(texts.changed, { time: new Date(kept.begun).toLocaleString() }));
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
    else if ("start" in data) { startTimer(timer); }
    else if (data.shift) { shiftTimer(timer, Number(data.shift)); }
    else if (data.minutes) {
      const minutes = Math.max(0, minutesWorked() + Number(data.minutes));
      alter(function (record) { record.minutes = minutes; });
    } else if ("log" in data || "outcomeRetry" in data) { button.disabled = true; log().finally(function () { button.disabled = false; }); }
    else if ("outcomeGain" in data || "outcomeConfirm" in data) { log(confirmed()); }
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
    if (!fresh.work && !kept.isSent && !kept.touches.length) { kept = null; await offline.update(name, function () { return undefined; }); }
    const lengths = await offline.read("bench-timers") || {};
    Object.keys(lengths).forEach(function (kind) {
      parts("[data-kind=" + kind + "] [data-timer]").forEach(function (each) { each.dataset.timer = String(lengths[kind]); });
    });
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
  window.setInterval(showTimers, 500);
  open();
})();
