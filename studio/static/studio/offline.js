/* What is entered without a network: kept on this device at once, sent when there is one, and never twice.

   meniscusOffline.read(name)              what a page keeps, a promise; of the signed-in person alone
   meniscusOffline.update(name, change)    change(value) makes the next value out of the last one, whatever tab wrote it
   meniscusOffline.keep(name, value)       puts it in as it is, without telling other tabs; .forget(prefix) deletes
   meniscusOffline.send(entry)             puts {key, url, body, label, back} into the queue; the key is its only identity
   meniscusOffline.entry(key), .drop(key)  one of the queue: {…, state: waiting | refused | sent, answer, problem}
   meniscusOffline.takeOff(key)            takes it out if it was never sent; a promise of whether it is still there
   meniscusOffline.flush()                 tries to send what waits; also on opening, on return, and every half minute
   meniscusOffline.token()                 a fresh form token, a promise; null where somebody else or nobody is signed in
   meniscusOffline.keepPage()              lets this page open without a network (studio/pages/worker.js)
   document "meniscus-offline"             is fired after anything has changed, in every tab
   body data-user, data-state-url, data-worker-url, data-login-url, data-queue-waits, data-queue-open,
   data-queue-login, data-queue-login-open                                                                            */
(function () {
  "use strict";

  const page = document.body.dataset;
  const user = page.user;
  if (!user || !window.indexedDB) { return; }

  const DATABASE = "meniscus.offline", RECORDS = "records", QUEUE = "queue", LOCK = "meniscus.send";
  const RETRY_MS = 30000, TIMEOUT_MS = 20000;
  const channel = "BroadcastChannel" in window ? new BroadcastChannel(DATABASE) : null;

  // ---- On the device ----------------------------------------------------------------------------------------------

  let opening = null;

  function database() {
    opening = opening || new Promise(function (resolve, reject) {
      const request = indexedDB.open(DATABASE, 1);
      request.onupgradeneeded = function () {
        request.result.createObjectStore(RECORDS);
        request.result.createObjectStore(QUEUE);
      };
      request.onsuccess = function () { resolve(request.result); };
      request.onerror = function () { reject(request.error); };
    });
    return opening;
  }

  function resultOf(request) {
    return new Promise(function (resolve, reject) {
      request.onsuccess = function () { resolve(request.result); };
      request.onerror = function () { reject(request.error); };
    });
  }

  async function read(store, key) {
    const base = await database();
    return resultOf(base.transaction(store).objectStore(store).get(key));
  }

  // Called at every keystroke, so other tabs are not told; undefined deletes.
  async function put(key, value) {
    const base = await database();
    const transaction = base.transaction(RECORDS, "readwrite", { durability: "strict" });
    const rows = transaction.objectStore(RECORDS);
    if (value === undefined) { rows.delete(key); } else { rows.put(value, key); }
    return finished(transaction);
  }

  function finished(transaction) {
    return new Promise(function (resolve, reject) {
      transaction.oncomplete = resolve;
      transaction.onerror = transaction.onabort = function () { reject(transaction.error); };
    });
  }

  // One transaction reads and writes, so that two tabs never overwrite each other; strict: it survives a dead battery.
  async function change(store, key, make) {
    const base = await database();
    const transaction = base.transaction(store, "readwrite", { durability: "strict" });
    const rows = transaction.objectStore(store);
    const done = finished(transaction);
    const value = make(await resultOf(rows.get(key)));
    if (value === undefined) { rows.delete(key); } else { rows.put(value, key); }
    await done;
    changed();
    return value;
  }

  function changed() {
    if (channel) { channel.postMessage("changed"); }
    document.dispatchEvent(new Event("meniscus-offline"));
  }

  if (channel) {
    channel.onmessage = function () { document.dispatchEvent(new Event("meniscus-offline")); };
  }

  function own(name) { return user + "." + name; }

  async function entries() {
    const base = await database();
    const every = await resultOf(base.transaction(QUEUE).objectStore(QUEUE).getAll());
    return every.filter(function (entry) { return entry.user === user; });
  }

  // ---- Sending ----------------------------------------------------------------------------------------------------

  function fetchInTime(url, options) {
    const signal = "timeout" in AbortSignal ? AbortSignal.timeout(TIMEOUT_MS) : undefined;
    return fetch(url, Object.assign({ credentials: "same-origin", redirect: "manual", signal: signal }, options));
  }

  // A phone that closed the browser ended the login with it: there is a network, but nothing can be sent.
  let isLoggedOut = false;

  // The page may be hours old: who is signed in by now, and the form token that goes with it.
  async function login() {
    const answer = await fetchInTime(page.stateUrl, { headers: { Accept: "application/json" } });
    const isAnswered = answer.type === "basic" && (answer.ok || answer.status === 401);
    if (!isAnswered) { return null; }
    const state = await answer.json(), isOurs = String(state.user) === user;
    if (isLoggedOut === isOurs) { isLoggedOut = !isOurs; changed(); }
    return isOurs ? state.csrf : null;
  }

  async function post(entry, token) {
    const answer = await fetchInTime(entry.url, {
      method: "POST",
      body: JSON.stringify(entry.body),
      headers: { "Content-Type": "application/json", "Idempotency-Key": entry.key, "X-CSRFToken": token },
    });
    if (answer.status === 200 || answer.status === 201) {
      const body = await answer.json();
      return body.key === entry.key ? { state: "sent", answer: body } : null;
    }
    const isRefused = [400, 404, 409, 412, 413, 422].includes(answer.status);
    return isRefused ? { state: "refused", problem: await answer.json() } : null;
  }

  async function sendAll() {
    const waiting = (await entries()).filter(function (entry) { return entry.state === "waiting"; });
    if (!waiting.length) { return; }
    const token = await login();
    if (!token) { return; }
    for (const entry of waiting) {
      // Noted before it is sent: if the answer is lost on its way back, the entry may still have arrived.
      const tried = await change(QUEUE, entry.key, function (now) { return now && Object.assign(now, { isTried: true }); });
      const outcome = tried ? await post(entry, token) : null;
      if (outcome) {
        await change(QUEUE, entry.key, function (now) { return now && Object.assign(now, outcome); });
      }
    }
  }

  // Two tabs send one after the other where the browser has locks; where it has none, the key prevents a double entry.
  async function sendInTurn() {
    try {
      await (navigator.locks ? navigator.locks.request(LOCK, sendAll) : sendAll());
    } catch (error) { /* no network: it stays in the queue */ }
  }

  // An entry that is queued during sending is sent right after it: once more is enough, however often flush is called.
  let sending = null, isCalledAgain = false;

  function flush() {
    if (sending) {
      isCalledAgain = true;
    } else {
      sending = sendInTurn().then(function () {
        sending = null;
        if (isCalledAgain) { isCalledAgain = false; return flush(); }
      });
    }
    return sending;
  }

  async function send(entry) {
    await change(QUEUE, entry.key, function (now) {
      return now && now.state === "sent" ? now : Object.assign({}, entry, { user: user, state: "waiting" });
    });
    await flush();
  }

  async function takeOff(key) {
    return Boolean(await change(QUEUE, key, function (now) {
      return now && now.state === "waiting" && !now.isTried ? undefined : now;
    }));
  }

  // ---- A notice of unsent entries, on every page ------------------------------------------------------------------

  let notice = null;

  async function showNotice() {
    const here = window.location.pathname;
    const unsent = (await entries()).filter(function (entry) { return entry.state !== "sent"; });
    const open = isLoggedOut ? unsent : unsent.filter(function (entry) { return entry.back !== here; });
    if (notice) { notice.remove(); notice = null; }
    if (!open.length || !page.queueWaits) { return; }
    notice = document.createElement("div");
    notice.className = "message is-warning";
    notice.setAttribute("role", "status");
    const text = document.createElement("p");
    text.textContent = isLoggedOut ? page.queueLogin : page.queueWaits.replace("{what}", open[0].label);
    const link = document.createElement("a");
    link.className = "button is-quiet";
    link.href = isLoggedOut ? page.loginUrl + "?next=" + encodeURIComponent(here) : open[0].back;
    link.textContent = isLoggedOut ? page.queueLoginOpen : page.queueOpen;
    notice.append(text, link);
    document.getElementById("main").prepend(notice);
  }

  // ---- Pages that open without a network --------------------------------------------------------------------------

  async function keepPage() {
    if (!("serviceWorker" in navigator)) { return false; }
    await navigator.serviceWorker.register(page.workerUrl);
    const registration = await navigator.serviceWorker.ready;
    const files = Array.from(
      document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src], img[src], use"),
      function (part) { return part.href && part.href.baseVal || part.href || part.src; }
    );
    const addresses = files.map(function (file) { return new URL(file, document.baseURI).href.split("#")[0]; });
    const urls = Array.from(new Set([window.location.pathname].concat(addresses)));
    registration.active.postMessage({ type: "keep", user: user, urls: urls });
    return true;
  }

  // Signing out deletes the pages that are kept; entries that are not sent yet stay.
  document.querySelectorAll("form[data-draft-forget]").forEach(function (form) {
    form.addEventListener("submit", function () {
      const worker = navigator.serviceWorker && navigator.serviceWorker.controller;
      if (worker) { worker.postMessage({ type: "forget" }); }
    });
  });

  window.meniscusOffline = {
    read: function (name) { return read(RECORDS, own(name)); },
    update: function (name, make) { return change(RECORDS, own(name), make); },
    keep: function (name, value) { return put(own(name), value); },
    forget: function (prefix) { return put(IDBKeyRange.bound(own(prefix), own(prefix) + "\uffff"), undefined); },
    entry: function (key) { return read(QUEUE, key); },
    drop: function (key) { return change(QUEUE, key, function () { return undefined; }); },
    takeOff: takeOff,
    send: send,
    flush: flush,
    keepPage: keepPage,
    token: login,
  };

  document.addEventListener("meniscus-offline", showNotice);
  window.addEventListener("online", flush);
  document.addEventListener("visibilitychange", function () { if (!document.hidden) { flush(); } });
  window.setInterval(function () { if (!document.hidden) { flush(); } }, RETRY_MS);
  flush();
  showNotice();
})();
