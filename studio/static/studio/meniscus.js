/* Small helps only: every page works without this file.
   data-add-row="prefix", data-copy-row="prefix", data-remove-row
                                            rows of a formset (studio/parts/rows.html)
   form[method=post]                        is sent once, however often the button is pressed
   input data-filter="#table-id"            hides the rows of a table that lack the typed words
   form data-draft="key"                    keeps an unsent form on this device; data-draft-clear="key" on the page
                                            after a save forgets it; form data-draft-forget forgets all when sent;
                                            data-draft-sent-back: the page is filled in already, restore nothing;
                                            data-draft-filled: so it is, but what was changed since comes back
   button data-copy-text="id" data-copied   copies a text field, then says so
   details data-fold-when-narrow            stands open on a desk and starts folded on a phone
   body data-shown-…, data-draft-…          what this file says, in the language of the page */
(function () {
  "use strict";

  const page = document.documentElement;
  page.classList.add("has-script");

  const words = document.body.dataset;

  function filledIn(text, values) {
    return text.replace(/\{(\w+)\}/g, function (place, name) { return name in values ? values[name] : place; });
  }

  // ---- Rows of a formset ------------------------------------------------------------------------------------------

  function rowsOf(prefix) {
    return document.querySelector('[data-rows="' + CSS.escape(prefix) + '"]');
  }

  function totalForms(rows) {
    return rows.querySelector('input[name="' + CSS.escape(rows.dataset.rows) + '-TOTAL_FORMS"]');
  }

  function numberRows(rows) {
    const numbers = rows.querySelectorAll(".rows-list > [data-row]:not([hidden]) [data-row-number]");
    numbers.forEach(function (place, index) { place.textContent = String(index + 1); });
  }

  // Long lists of choices stand in the rows that are there, not once more in the pattern of a new one.
  function fillChoices(row, rows) {
    row.querySelectorAll("select").forEach(function (select) {
      const field = select.name.replace(/^.*-/, "");
      const alike = rows.querySelector('.rows-list > [data-row] select[name$="-' + CSS.escape(field) + '"]');
      if (select.options.length || !alike) { return; }
      select.append(...Array.from(alike.children, function (choice) { return choice.cloneNode(true); }));
      Array.from(select.options).forEach(function (option) { option.removeAttribute("selected"); });
      select.selectedIndex = 0;
      if (select.dataset.usual) { select.value = select.dataset.usual; }
    });
  }

  function addRow(rows) {
    const total = totalForms(rows);
    const row = rows.querySelector("template").content.firstElementChild.cloneNode(true);
    row.querySelectorAll("*").forEach(function (element) {
      ["id", "name", "for", "aria-describedby"].forEach(function (attribute) {
        const value = element.getAttribute(attribute);
        if (value) { element.setAttribute(attribute, value.replaceAll("__prefix__", total.value)); }
      });
    });
    fillChoices(row, rows);
    rows.querySelector(".rows-list").append(row);
    total.value = String(Number(total.value) + 1);
    numberRows(rows);
    return row;
  }

  function lastRow(rows) {
    return Array.from(rows.querySelectorAll(".rows-list > [data-row]:not([hidden])")).pop();
  }

  // What was typed into the last row, once more in a new one; a photo and what is hidden stay where they are.
  function copyRow(rows) {
    const above = lastRow(rows);
    const row = addRow(rows);
    if (!above) { return row; }
    row.querySelectorAll("input, select, textarea").forEach(function (field) {
      const name = field.name.replace(/^.*?-\d+-/, "");
      const from = above.querySelector('[name$="-' + CSS.escape(name) + '"]');
      if (from && name !== "DELETE" && !NEVER_KEPT.includes(field.type)) { setValue(field, valueOf(from)); }
    });
    row.querySelectorAll("details").forEach(function (fold, index) {
      fold.open = Boolean((above.querySelectorAll("details")[index] || fold).open);
    });
    return row;
  }

  function removeRow(row) {
    const rows = row.closest("[data-rows]");
    const tick = row.querySelector('input[name$="-DELETE"]');
    if (tick) { tick.checked = true; }
    row.hidden = true;
    numberRows(rows);
    rows.querySelector("[data-add-row]").focus();
    row.dispatchEvent(new Event("input", { bubbles: true }));
  }

  document.addEventListener("click", function (event) {
    const add = event.target.closest("[data-add-row]");
    const copy = event.target.closest("[data-copy-row]");
    const remove = event.target.closest("[data-remove-row]");
    if (add || copy) {
      const row = add ? addRow(rowsOf(add.dataset.addRow)) : copyRow(rowsOf(copy.dataset.copyRow));
      const field = row.querySelector("input:not([type=hidden]), select, textarea");
      if (field) { field.focus(); }
      if (copy && field) { field.dispatchEvent(new Event("change", { bubbles: true })); }
    }
    if (remove) { removeRow(remove.closest("[data-row]")); }
  });

  document.querySelectorAll("[data-rows]").forEach(function (rows) {
    rows.querySelectorAll(".rows-list > [data-row]").forEach(function (row) {
      const tick = row.querySelector('input[name$="-DELETE"]');
      if (tick && tick.checked) { row.hidden = true; }
      if (!tick) { row.querySelector("[data-remove-row]").remove(); }
    });
    if (!rows.querySelector("template").content.querySelector('input[name$="-DELETE"]')) {
      rows.querySelector("template").content.querySelector("[data-remove-row]").remove();
    }
    numberRows(rows);
  });

  // ---- Text to copy -----------------------------------------------------------------------------------------------

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-copy-text]");
    if (!button) { return; }
    const field = document.getElementById(button.dataset.copyText);
    const said = function () { button.querySelector("span").textContent = button.dataset.copied; };
    field.select();
    if (navigator.clipboard) {
      navigator.clipboard.writeText(field.value).then(said, function () { field.focus(); });
    } else if (document.execCommand("copy")) { // without https there is only the old way
      said();
    }
  });

  // ---- Sent once --------------------------------------------------------------------------------------------------

  const UNLOCK_AFTER_MS = 10000; // a form that answers with a download leaves the page standing

  function unlock(form) {
    delete form.dataset.sent;
    form.querySelectorAll("button[aria-disabled]").forEach(function (button) {
      button.removeAttribute("aria-disabled");
    });
  }

  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.method !== "post" || event.defaultPrevented) { return; }
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    form.querySelectorAll("button[type=submit], button:not([type])").forEach(function (button) {
      button.setAttribute("aria-disabled", "true");
    });
    window.setTimeout(unlock, UNLOCK_AFTER_MS, form);
  });

  window.addEventListener("pageshow", function (event) {
    if (event.persisted) { document.querySelectorAll("form[data-sent]").forEach(unlock); }
  });

  // ---- Filter as you type -----------------------------------------------------------------------------------------

  document.querySelectorAll("input[data-filter]").forEach(function (input) {
    const table = document.querySelector(input.dataset.filter);
    if (!table) { return; }
    const output = document.createElement("output");
    output.className = "quiet";
    output.htmlFor = input.id;
    input.after(output);
    input.addEventListener("input", function () {
      const typed = input.value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
      let matches = 0;
      table.querySelectorAll("tbody > tr").forEach(function (row) {
        const text = row.textContent.toLocaleLowerCase();
        row.hidden = !typed.every(function (word) { return text.includes(word); });
        if (!row.hidden) { matches += 1; }
      });
      const text = matches === 1 ? words.shownOne : words.shownMany;
      output.textContent = typed.length ? filledIn(text, { count: matches }) : "";
    });
  });

  // ---- Drafts -----------------------------------------------------------------------------------------------------

  const DRAFTS = "meniscus.draft.";
  const KEEP_DRAFT_MS = 14 * 24 * 60 * 60 * 1000;
  const NEVER_KEPT = ["hidden", "password", "file", "submit", "button"];

  // The person's number is part of the key: two people who share a phone never see each other's drafts.
  function draftKey(name) {
    return DRAFTS + (document.body.dataset.user || "") + "." + name;
  }

  function onDevice(work) {
    try { return work(window.localStorage); } catch (refused) { return null; }
  }

  function keptFields(form) {
    return Array.from(form.elements).filter(function (field) {
      return field.name && !NEVER_KEPT.includes(field.type) && field.tagName !== "FIELDSET";
    });
  }

  function valueOf(field) {
    if (field.type === "checkbox" || field.type === "radio") { return field.checked; }
    if (field.type === "select-multiple") {
      return Array.from(field.selectedOptions, function (option) { return option.value; });
    }
    return field.value;
  }

  function setValue(field, value) {
    if (field.type === "checkbox" || field.type === "radio") {
      field.checked = value;
    } else if (field.type === "select-multiple") {
      Array.from(field.options).forEach(function (option) { option.selected = value.includes(option.value); });
    } else {
      field.value = value;
    }
  }

  function fieldName(field) {
    const isChoice = field.type === "checkbox" || field.type === "radio";
    return isChoice ? field.name + "=" + field.value : field.name;
  }

  function saveDraft(form) {
    const draft = { at: Date.now(), page: window.location.search, rows: {}, fields: {} };
    form.querySelectorAll("[data-rows]").forEach(function (rows) {
      draft.rows[rows.dataset.rows] = Number(totalForms(rows).value);
    });
    keptFields(form).forEach(function (field) { draft.fields[fieldName(field)] = valueOf(field); });
    onDevice(function (store) { store.setItem(draftKey(form.dataset.draft), JSON.stringify(draft)); });
  }

  function readDraft(name) {
    const text = onDevice(function (store) { return store.getItem(draftKey(name)); });
    if (!text) { return null; }
    try {
      const draft = JSON.parse(text);
      return Date.now() - draft.at < KEEP_DRAFT_MS ? draft : null;
    } catch (unreadable) {
      return null;
    }
  }

  function dropDraft(name) {
    onDevice(function (store) { store.removeItem(draftKey(name)); });
  }

  function restoreDraft(form, draft) {
    form.querySelectorAll("[data-rows]").forEach(function (rows) {
      const wanted = draft.rows[rows.dataset.rows] || 0;
      while (Number(totalForms(rows).value) < wanted) { addRow(rows); }
    });
    keptFields(form).forEach(function (field) {
      const name = fieldName(field);
      if (name in draft.fields) { setValue(field, draft.fields[name]); }
    });
    form.querySelectorAll("[data-row]").forEach(function (row) {
      const tick = row.querySelector('input[name$="-DELETE"]');
      row.hidden = Boolean(tick && tick.checked);
    });
    form.querySelectorAll("[data-rows]").forEach(numberRows);
  }

  function tellOfDraft(form, draft) {
    const notice = document.createElement("div");
    const text = document.createElement("p");
    const drop = document.createElement("button");
    notice.className = "message is-info";
    notice.setAttribute("role", "status");
    text.textContent = filledIn(words.draftBack, { time: new Date(draft.at).toLocaleString() });
    drop.type = "button";
    drop.className = "button is-plain";
    drop.textContent = words.draftAfresh;
    drop.addEventListener("click", function () {
      dropDraft(form.dataset.draft);
      window.location.replace(window.location.pathname + window.location.search);
    });
    notice.append(text, drop);
    form.prepend(notice);
  }

  document.querySelectorAll("[data-draft-clear]").forEach(function (element) {
    dropDraft(element.dataset.draftClear);
  });

  document.querySelectorAll("form[data-draft]").forEach(function (form) {
    // A form sent back, with errors or filled in further, already holds what was typed.
    const sentBack = "draftSentBack" in form.dataset ||
      form.querySelector("[aria-invalid=true], .error-summary, .errorlist");
    const kept = sentBack ? null : readDraft(form.dataset.draft);
    const isAnother = kept && "draftFilled" in form.dataset && kept.page !== window.location.search;
    const draft = isAnother ? null : kept;
    if (draft) {
      form.dataset.draftBack = "yes";
      form.draftFields = draft.fields; // for fields that a script adds later
      restoreDraft(form, draft);
      tellOfDraft(form, draft);
    }
    form.addEventListener("input", function () { saveDraft(form); });
    form.addEventListener("change", function () { saveDraft(form); });
  });

  document.querySelectorAll("form[data-draft-forget]").forEach(function (form) {
    form.addEventListener("submit", function () {
      onDevice(function (store) {
        Object.keys(store).filter(function (key) { return key.startsWith(DRAFTS); })
          .forEach(function (key) { store.removeItem(key); });
      });
      if (window.indexedDB) { window.indexedDB.deleteDatabase("meniscus.photos"); }
    });
  });

  // ---- Filters that fold away on a phone --------------------------------------------------------------------------

  const narrow = window.matchMedia("(max-width: 47.99rem)");
  document.querySelectorAll("details[data-fold-when-narrow]").forEach(function (fold) {
    function fit() { fold.open = !narrow.matches; }
    fit();
    narrow.addEventListener("change", fit);
  });

  // ---- Where to look first ----------------------------------------------------------------------------------------

  const first = document.querySelector("[data-focus]");
  if (first) { first.focus(); }
})();
