/* Small helps only: every page works without this file.
   data-add-row="prefix", data-copy-row="prefix", data-remove-row
                                            rows of a formset (studio/parts/rows.html)
   form[method=post]                        is sent once, however often the button is pressed
   input data-filter="#table-id"            hides the rows of a table that lack the typed words
   button data-copy-text="id" data-copied   copies a text field, then says so
   details data-fold-when-narrow            stands open on a desk and starts folded on a phone
   body data-shown-…                        what this file says, in the language of the page */
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

  // On a phone two blank rows are enough to begin with; the next one comes once something is entered in the last.
  const SPARE_AFTER = window.matchMedia("(max-width: 47.99rem)").matches ? 2 : Infinity;

  function isBlank(row, pattern) {
    return Array.from(row.querySelectorAll("input:not([type=hidden]), select, textarea")).every(function (field) {
      const alike = pattern.querySelector('[name$="-' + CSS.escape(field.name.replace(/^.*-/, "")) + '"]');
      return field.type === "checkbox" ? !field.checked : !field.value || Boolean(alike && field.value === alike.value);
    });
  }

  function putSparesAway(rows) {
    const pattern = rows.querySelector("template").content;
    const blank = Array.from(rows.querySelectorAll(".rows-list > [data-row]:not([hidden])")).filter(function (row) {
      return !row.querySelector(".errorlist") && isBlank(row, pattern);
    });
    blank.slice(SPARE_AFTER).forEach(function (row) { row.hidden = true; row.dataset.spare = ""; });
  }

  function spareRow(rows) {
    const row = rows.querySelector(".rows-list > [data-spare][hidden]");
    if (row) { row.hidden = false; delete row.dataset.spare; numberRows(rows); }
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
      const row = add ? spareRow(rowsOf(add.dataset.addRow)) || addRow(rowsOf(add.dataset.addRow)) : copyRow(rowsOf(copy.dataset.copyRow));
      const field = row.querySelector("input:not([type=hidden]), select, textarea");
      if (field) { field.focus(); }
      if (copy && field) { field.dispatchEvent(new Event("change", { bubbles: true })); }
    }
    if (remove) { removeRow(remove.closest("[data-row]")); }
  });

  document.addEventListener("input", function (event) {
    const row = event.target.closest(".rows-list > [data-row]:not([hidden])");
    const rows = row && row.closest("[data-rows]");
    if (rows && row === lastRow(rows)) { spareRow(rows); }
  });

  // Another script asks for a row that it fills in itself: the focus stays.
  document.addEventListener("addrow", function (event) { addRow(event.target); });

  document.querySelectorAll("[data-rows]").forEach(function (rows) {
    rows.querySelectorAll(".rows-list > [data-row]").forEach(function (row) {
      const tick = row.querySelector('input[name$="-DELETE"]');
      if (tick && tick.checked) { row.hidden = true; }
      if (!tick) { row.querySelector("[data-remove-row]").remove(); }
    });
    if (!rows.querySelector("template").content.querySelector('input[name$="-DELETE"]')) {
      rows.querySelector("template").content.querySelector("[data-remove-row]").remove();
    }
    if (!rows.closest("[data-cups]")) { putSparesAway(rows); }
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

  // ---- Values of fields -------------------------------------------------------------------------------------------

  const NEVER_KEPT = ["hidden", "password", "file", "submit", "button"];

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

  // For drafts.js, which fills forms in again.
  window.meniscusForms = { NEVER_KEPT, addRow, filledIn, numberRows, setValue, totalForms, valueOf };

  // ---- Filters that fold away on a phone --------------------------------------------------------------------------

  const narrow = window.matchMedia("(max-width: 47.99rem)");
  document.querySelectorAll("details[data-fold-when-narrow]").forEach(function (fold) {
    function fit() { fold.open = !narrow.matches; }
    fit();
    narrow.addEventListener("change", fit);
  });

  // ---- What an address names is open ------------------------------------------------------------------------------

  function namedPart() { return document.getElementById(decodeURIComponent(window.location.hash.slice(1))); }

  function openTarget() {
    const target = namedPart();
    const fold = target && target.closest("details");
    if (fold) { fold.open = true; }
  }
  openTarget();
  window.addEventListener("hashchange", openTarget);
  // A part of the form that led here: browsers keep its name when what was saved is shown.
  if (window.location.hash && !namedPart()) {
    window.history.replaceState(window.history.state, "", window.location.pathname + window.location.search);
  }

  // ---- Where to look first ----------------------------------------------------------------------------------------

  // What must be put right comes first; what was saved, unless the page has a place of its own to begin.
  const wrong = document.querySelector("[data-focus]:not(.messages)");
  const told = document.querySelector(".messages[data-focus]");
  const isElsewhere = document.activeElement !== document.body || namedPart();
  if (wrong) { wrong.focus(); } else if (told && !isElsewhere) { told.focus({ preventScroll: true }); }
})();
