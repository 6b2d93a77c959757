/* Unsent forms are kept on this device, in the database of offline.js: it survives a phone that ends the page.
   form data-draft="key"        is kept while it is typed and comes back; data-draft-clear="key" on the page after a save
                                forgets it; form data-draft-forget forgets all of hers when it is sent
   data-draft-sent-back         the page is filled in already, restore nothing
   data-draft-filled            so it is, but what was changed since comes back
   form.draftRead               a promise of the draft that came back, or of null; form.draftFields has its fields
   form "draftback"             is fired after a draft came back
   body data-draft-back, data-draft-discard                                                                            */
(function () {
  "use strict";

  const offline = window.meniscusOffline, forms = window.meniscusForms;
  if (!offline) { return; }
  const KEEP_MS = 14 * 24 * 60 * 60 * 1000, LOGOUT_WAITS_MS = 2000;
  const NAME = "draft.";
  const words = document.body.dataset;

  // Earlier versions kept drafts where a phone could lose the last seconds; what is there is taken over once.
  async function takeOver() {
    const old = "meniscus.draft." + words.user + ".";
    let store;
    try { store = window.localStorage; } catch (refused) { return; }
    for (const key of Object.keys(store).filter(function (each) { return each.startsWith(old); })) {
      let draft = null;
      try { draft = JSON.parse(store.getItem(key)); } catch (unreadable) { /* not one of ours */ }
      if (draft && draft.fields) {
        await offline.keep(NAME + key.slice(old.length), draft);
        store.removeItem(key);
      }
    }
  }

  function fieldName(field) {
    const isChoice = field.type === "checkbox" || field.type === "radio";
    return isChoice ? field.name + "=" + field.value : field.name;
  }

  function keptFields(form) {
    return Array.from(form.elements).filter(function (field) {
      return field.name && !forms.NEVER_KEPT.includes(field.type) && field.tagName !== "FIELDSET";
    });
  }

  function draftOf(form) {
    const draft = { at: Date.now(), page: window.location.search, rows: {}, fields: {} };
    form.querySelectorAll("[data-rows]").forEach(function (rows) {
      draft.rows[rows.dataset.rows] = Number(forms.totalForms(rows).value);
    });
    keptFields(form).forEach(function (field) { draft.fields[fieldName(field)] = forms.valueOf(field); });
    return draft;
  }

  // ---- Kept -------------------------------------------------------------------------------------------------------

  // One write at a time, and the newest state after it: a quick thumb never waits, and nothing comes late.
  function keeper(form) {
    let writing = false, isAskedAgain = false, isTyped = false, isSent = false;
    async function keep() {
      isTyped = true;
      if (isSent) { return; }
      if (writing) { isAskedAgain = true; return; }
      writing = true;
      try { await offline.keep(NAME + form.dataset.draft, draftOf(form)); } catch (refused) { /* a private window */ }
      writing = false;
      if (isAskedAgain) { isAskedAgain = false; keep(); }
    }
    // The last state goes in before the page does; whatever came after it could undo what the next page forgets.
    document.addEventListener("submit", function (event) {
      if (event.target !== form || event.defaultPrevented || !isTyped) { return; }
      isAskedAgain = false;
      offline.keep(NAME + form.dataset.draft, draftOf(form)).catch(function () {});
      isSent = true;
    });
    form.addEventListener("input", function () { isSent = false; });
    return keep;
  }

  // ---- Brought back -----------------------------------------------------------------------------------------------

  function restore(form, draft, touched) {
    form.querySelectorAll("[data-rows]").forEach(function (rows) {
      const wanted = draft.rows[rows.dataset.rows] || 0;
      while (Number(forms.totalForms(rows).value) < wanted) { forms.addRow(rows); }
    });
    keptFields(form).forEach(function (field) {
      const name = fieldName(field);
      if (name in draft.fields && !touched.has(name)) { forms.setValue(field, draft.fields[name]); }
    });
    form.querySelectorAll("[data-row]").forEach(function (row) {
      const tick = row.querySelector('input[name$="-DELETE"]');
      row.hidden = Boolean(tick && tick.checked);
    });
    form.querySelectorAll("[data-rows]").forEach(forms.numberRows);
  }

  function tell(form, draft) {
    const notice = document.createElement("div");
    const text = document.createElement("p");
    const drop = document.createElement("button");
    notice.className = "message is-info";
    notice.setAttribute("role", "status");
    text.textContent = forms.filledIn(words.draftBack, { time: new Date(draft.at).toLocaleString() });
    drop.type = "button";
    drop.className = "button is-plain";
    drop.textContent = words.draftDiscard;
    drop.addEventListener("click", async function () {
      await offline.keep(NAME + form.dataset.draft, undefined);
      window.location.replace(window.location.pathname + window.location.search);
    });
    notice.append(text, drop);
    form.prepend(notice);
  }

  async function read(form) {
    // A form sent back, with errors or filled in further, already holds what was typed.
    const isSentBack = "draftSentBack" in form.dataset ||
      form.querySelector("[aria-invalid=true], .error-summary, .errorlist");
    const kept = isSentBack ? null : await offline.read(NAME + form.dataset.draft);
    const isAnother = kept && "draftFilled" in form.dataset && kept.page !== window.location.search;
    return kept && !isAnother && Date.now() - kept.at < KEEP_MS ? kept : null;
  }

  async function bringBack(form, touched) {
    try {
      await ready;
      const draft = await read(form);
      if (!draft) { return null; }
      form.draftFields = draft.fields; // for fields that a script adds later
      restore(form, draft, touched);
      tell(form, draft);
      form.dispatchEvent(new Event("draftback"));
      return draft;
    } catch (refused) {
      return null; // a browser that keeps nothing, as in a private window
    }
  }

  // What the page before has saved is forgotten before anything is brought back.
  async function prepare() {
    await takeOver();
    for (const element of document.querySelectorAll("[data-draft-clear]")) {
      await offline.keep(NAME + element.dataset.draftClear, undefined);
    }
  }

  const ready = prepare();
  ready.catch(function () { /* a private window */ });

  document.querySelectorAll("form[data-draft]").forEach(function (form) {
    const touched = new Set(), keep = keeper(form);
    let isRead = false;
    function changed(event) {
      if (isRead) { keep(); } else { touched.add(fieldName(event.target)); }
    }
    form.addEventListener("input", changed);
    form.addEventListener("change", changed);
    form.draftRead = bringBack(form, touched).finally(function () {
      isRead = true;
      if (touched.size) { keep(); }
    });
  });

  // ---- Forgotten --------------------------------------------------------------------------------------------------

  document.querySelectorAll("form[data-draft-forget]").forEach(function (form) {
    form.addEventListener("submit", async function (event) {
      event.preventDefault();
      window.indexedDB.deleteDatabase("meniscus.photos");
      const patience = new Promise(function (resolve) { window.setTimeout(resolve, LOGOUT_WAITS_MS); });
      try { await Promise.race([offline.forget(NAME), patience]); } catch (refused) { /* nothing is kept */ }
      form.submit();
    });
  });
})();
