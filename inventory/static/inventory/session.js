/* The parts of a cup, worked out while one types; without this file the button "Work out the parts" does it.
   form[data-cups]            a form whose cups have parts
   [data-parts="signature"]   the parts of one cup, and what they were worked out for
   [data-cup-column="2"]      what was poured from the second cup, shown while that cup is used; one for each cup
                              (the form names it: data-words-cup="Cup {number}" and data-words-named-cup)
   button[data-pour-on="17"]  a surface (its data-name) that a tap adds a pour on; the group's role=status says where
   [data-rows][data-at-most]  the Add button goes when so many rows are there                                          */
(function () {
  "use strict";

  const form = document.querySelector("form[data-cups]");
  if (!form) { return; }
  let turn = 0, underWay = null;

  function replaceKeepingFocus(place, fresh) {
    const focused = place.contains(document.activeElement) ? document.activeElement.id : "";
    place.replaceWith(fresh);
    if (focused && document.getElementById(focused)) { document.getElementById(focused).focus(); }
  }

  // What she typed stays; only the words beside it (weights, the scale's totals, the water) are taken from the answer.
  function replaceWords(place, fresh) {
    place.querySelectorAll(".help, .parts-total").forEach(function (words) {
      const said = fresh.querySelector("#" + CSS.escape(words.id));
      if (said) { words.replaceWith(said); }
    });
  }

  // A cup filled from a bottle calls its amount something else, and needs it less.
  function nameAmount(place, page) {
    const cup = place.closest("[data-cup]");
    const field = cup && cup.querySelector("input[name$=-wanted]");
    const label = field && cup.querySelector('label[for="' + CSS.escape(field.id) + '"]');
    const said = label && page.querySelector('label[for="' + CSS.escape(field.id) + '"]');
    if (said && said.innerHTML !== label.innerHTML) { label.replaceChildren(...said.cloneNode(true).childNodes); }
  }

  // The total follows the parts, rescaled or typed over; what was typed since it was asked for stays.
  function takeAmount(place, page, asked) {
    const name = place.id.replace(/-parts$/, "-wanted");
    const field = form.querySelector('[name="' + CSS.escape(name) + '"]');
    const fresh = page.querySelector('[name="' + CSS.escape(name) + '"]');
    if (field && fresh && field.value === asked.get(name)) { field.value = fresh.value; }
  }

  // What the parts are planned for, and the total that followed them.
  function takePlan(place, fresh) {
    const kept = place.querySelector("input[name$=-planned_for]"), said = fresh.querySelector("input[name$=-planned_for]");
    if (kept && said) { kept.value = said.value; }
  }

  function workOut() {
    const mine = askForParts().finally(function () { if (underWay === mine) { underWay = null; } });
    underWay = mine;
    return mine;
  }

  // A save right after a change waits for what follows from it.
  form.addEventListener("submit", function (event) {
    const button = event.submitter;
    if (!underWay || (button && button.name === "do")) { return; }
    event.preventDefault();
    underWay.finally(function () { form.requestSubmit(button); });
  });

  async function askForParts() {
    const mine = ++turn;
    const body = new FormData(form);
    Array.from(body.entries()).forEach(function (entry) {
      if (entry[1] instanceof File) { body.delete(entry[0]); } // photos stay here until the session is posted
    });
    body.append("do", "parts");
    let answer, words;
    try {
      answer = await fetch(window.location.href, { method: "POST", body: body });
      words = await answer.text();
    } catch (offline) {
      return false;
    }
    // Checked after the wait: while an answer arrives, another tap may have sent a newer request.
    if (!answer.ok || answer.redirected || mine !== turn) { return answer.ok; }
    const page = new DOMParser().parseFromString(words, "text/html");
    takeSuggestions(page);
    form.querySelectorAll("[data-parts]").forEach(function (place) {
      const fresh = page.getElementById(place.id);
      if (!fresh) { return; }
      nameAmount(place, page);
      takeAmount(place, page, body);
      if (fresh.dataset.parts === place.dataset.parts) {
        replaceWords(place, fresh);
        takePlan(place, fresh);
      } else {
        replaceKeepingFocus(place, document.adoptNode(fresh));
      }
    });
    nameColumns();
    form.dispatchEvent(new Event("partsworkedout"));
    return true;
  }

  function concernsParts(field) {
    return /-(contents|wanted)$|-(amount|added|added_amount)_\d+$/.test(field.name || "") ||
      /-(alike|surface|technique|each|over|cup_\d+|cups_(before|after))$/.test(field.name || "");
  }

  // A suggested amount follows what it was worked out from, until somebody types over it.
  function takeSuggestions(page) {
    form.querySelectorAll("input[name$=-suggested]").forEach(function (kept) {
      const name = kept.name.replace(/suggested$/, kept.name.startsWith("cups-") ? "wanted" : "each");
      const field = form.querySelector('[name="' + CSS.escape(name) + '"]');
      const fresh = page.querySelector('[name="' + CSS.escape(name) + '"]');
      const suggested = page.querySelector('[name="' + CSS.escape(kept.name) + '"]');
      if (!field || !fresh || !suggested || (field.value && field.value !== kept.value)) { return; }
      kept.value = suggested.value;
      field.value = fresh.value;
      const help = document.getElementById(field.id + "_helptext"), freshHelp = page.getElementById(field.id + "_helptext");
      if (help && freshHelp) { help.textContent = freshHelp.textContent; }
    });
  }

  form.addEventListener("change", function (event) {
    if (concernsParts(event.target)) { workOut(); }
    nameColumns();
  });

  form.addEventListener("click", function (event) {
    const button = event.target.closest("[data-work-out]");
    if (!button || form.dataset.sent) { return; }
    event.preventDefault();
    workOut().then(function (done) {
      if (!done) { button.removeAttribute("data-work-out"); button.click(); }
    });
  });

  // ---- What each pour takes from which cup ---------------------------------------------------------------------------

  function fieldOf(row, name) { return row.querySelector('[name$="-' + name + '"]'); }

  function contentsOf(cup) {
    const choice = cup && cup.querySelector("select[name$=-contents]");
    return choice && choice.value ? choice.selectedOptions[0].textContent.replace(/ \([^(]*\)$/, "") : "";
  }

  function chosenIn(row, name) {
    const field = fieldOf(row, name);
    return field.value ? field.selectedOptions[0].textContent.replace(/ \([^(]*\)$/, "") : "";
  }

  // "3 × Round board 20 cm, Ring pour, 150 mL", as the page says it at first.
  function wordsOf(row) {
    const surface = chosenIn(row, "surface");
    const said = [surface && fieldOf(row, "alike").value + " × " + surface, chosenIn(row, "technique"), fieldOf(row, "each").value];
    return said.filter(Boolean).join(", ");
  }

  function numberOf(column) { return Number(column.dataset.cupColumn); }

  function lastColumn(place) {
    const columns = Array.from(place.querySelectorAll("[data-cup-column]"));
    return columns.sort(function (one, other) { return numberOf(one) - numberOf(other); }).pop();
  }

  function columnLike(pattern, prefix, number) {
    const made = pattern.cloneNode(true);
    made.dataset.cupColumn = String(number);
    made.querySelectorAll("*").forEach(function (element) {
      ["id", "name", "for", "aria-describedby"].forEach(function (attribute) {
        const value = element.getAttribute(attribute);
        if (!value) { return; }
        const named = value.replace("cup_" + numberOf(pattern), "cup_" + number);
        element.setAttribute(attribute, named.replace("pours-__prefix__", prefix));
      });
    });
    return made;
  }

  // A cup that was added has its place in every row of pours, and in those that are still to come.
  function addColumns() {
    const template = form.querySelector('[data-rows="pours"] > template');
    if (!template) { return; }
    const pattern = lastColumn(template.content);
    const cups = form.querySelectorAll(".rows-list > [data-cup]").length;
    form.querySelectorAll('[data-rows="pours"] > .rows-list > [data-row]').forEach(function (row) {
      const prefix = row.querySelector("[name$=-alike]").name.replace("-alike", "");
      for (let number = numberOf(lastColumn(row)) + 1; number <= cups; number += 1) {
        const made = columnLike(pattern, prefix, number);
        const field = made.querySelector("input");
        lastColumn(row).after(made);
        if (form.draftFields && field.name in form.draftFields) { field.value = form.draftFields[field.name]; }
      }
    });
    for (let number = numberOf(pattern) + 1; number <= cups; number += 1) {
      lastColumn(template.content).after(columnLike(pattern, "pours-__prefix__", number));
    }
  }

  function nameColumns() {
    addColumns();
    const cups = form.querySelectorAll(".rows-list > [data-cup]");
    cups.forEach(function (cup) {
      const words = cup.querySelector("[data-cup-words]");
      const said = [contentsOf(cup), cup.querySelector("input[name$=-wanted]").value].filter(Boolean).join(", ");
      if (words) { words.textContent = said || words.dataset.empty; }
    });
    form.querySelectorAll("[data-pours]").forEach(function (row) {
      const words = row.querySelector("[data-pours-words]");
      words.textContent = wordsOf(row) || words.dataset.empty;
    });
    form.querySelectorAll("[data-cup-column]").forEach(function (column) {
      const number = Number(column.dataset.cupColumn);
      const name = contentsOf(cups[number - 1]);
      const label = column.querySelector("label");
      column.hidden = !name && !column.querySelector("input").value;
      const said = (name ? form.dataset.wordsNamedCup : form.dataset.wordsCup).replace("{number}", String(number));
      label.firstChild.textContent = said.replace("{name}", function () { return name; }) + " ";
    });
    form.querySelectorAll("[data-rows][data-at-most]").forEach(function (rows) {
      const count = rows.querySelectorAll(".rows-list > [data-row]").length;
      rows.querySelector("[data-add-row]").hidden = count >= Number(rows.dataset.atMost);
    });
  }

  document.addEventListener("click", function (event) {
    if (event.target.closest("[data-add-row], [data-remove-row]")) { nameColumns(); }
  });

  // ---- A tap on a surface adds a pour on it --------------------------------------------------------------------------

  // The row that pours on this surface already, else one that names none, else a new one.
  function rowFor(surface) {
    const rows = form.querySelector('[data-rows="pours"]');
    const inSight = function () { return Array.from(rows.querySelectorAll(".rows-list > [data-row]:not([hidden])")); };
    const pouredOn = function (row) {
      const isElsewhere = ["over", "new_surface"].some(function (name) { return (fieldOf(row, name) || {}).value; });
      return isElsewhere ? "elsewhere" : fieldOf(row, "surface").value;
    };
    const found = inSight().find(function (row) { return pouredOn(row) === surface; }) ||
      inSight().find(function (row) { return !pouredOn(row); });
    if (found || rows.querySelector("[data-add-row]").hidden) { return found; }
    rows.dispatchEvent(new Event("addrow", { bubbles: true }));
    return inSight().pop();
  }

  // One line says it all once its amount is known; what the pour costs stays in sight.
  form.addEventListener("partsworkedout", function () {
    form.querySelectorAll("[data-pours][data-tapped]").forEach(function (row) {
      const isComplete = ["surface", "technique", "each"].every(function (name) { return fieldOf(row, name).value; });
      if (isComplete) { row.querySelector("details").open = false; }
      delete row.dataset.tapped;
    });
  });

  form.addEventListener("click", function (event) {
    const button = event.target.closest("[data-pour-on]");
    const row = button && rowFor(button.dataset.pourOn);
    if (!row) { return; }
    event.preventDefault();
    const surface = fieldOf(row, "surface"), alike = fieldOf(row, "alike");
    const isThere = surface.value === button.dataset.pourOn;
    if (isThere) { alike.value = String(Number(alike.value) + 1); } else { row.dataset.tapped = ""; }
    surface.value = button.dataset.pourOn;
    button.closest("[role=group]").querySelector("[role=status]").textContent =
      row.querySelector("legend").textContent.trim() + ": " + alike.value + " × " + button.dataset.name;
    (isThere ? alike : surface).dispatchEvent(new Event("change", { bubbles: true }));
  });

  nameColumns();
  const chosen = Array.from(form.querySelectorAll("[data-parts]")).some(function (place) {
    const cup = place.closest("[data-cup]") || form;
    const wanted = cup.querySelector("input[name$=-wanted]");
    return !place.dataset.parts && contentsOf(cup) && wanted && wanted.value;
  });
  // A draft came back from the device: its parts have fields again only once they are worked out.
  function bringBackParts() {
    const kept = form.draftFields || {};
    let changed = false;
    form.querySelectorAll("[data-parts] input:not([type=hidden]), [data-parts] select").forEach(function (field) {
      if (field.name in kept && field.value !== kept[field.name]) {
        field.value = kept[field.name];
        changed = true;
      }
    });
    if (changed) { workOut(); }
  }

  Promise.resolve(form.draftRead).then(function (draft) {
    if (draft) { nameColumns(); }
    if (draft || chosen) { workOut().then(function (done) { if (done) { bringBackParts(); } }); }
  });
})();
