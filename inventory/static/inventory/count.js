/* A stocktake with wet hands: what is counted, what is left, and Enter leads on.
   input data-left-only="#table-id"   hides the rows that are counted, but not the one in hand, nor what is being looked for
   p data-counted="words"             how many of the rows are counted                                              */
(function () {
  "use strict";

  const leftOnly = document.querySelector("[data-left-only]"), find = document.getElementById("find");
  const told = document.querySelector("[data-counted]");
  const table = leftOnly && document.querySelector(leftOnly.dataset.leftOnly);
  if (!table) { return; }
  const rows = Array.from(table.querySelectorAll("tbody > tr"));

  function isCounted(row) {
    const typed = row.querySelectorAll('input[name$="-found"], input[name$="-gross"]');
    return Array.from(typed).some(function (field) { return field.value.trim(); });
  }

  function tell() {
    rows.forEach(function (row) { row.classList.toggle("is-counted", isCounted(row)); });
    table.classList.toggle("is-left-only", leftOnly.checked && !find.value.trim());
    const done = rows.filter(isCounted).length;
    const values = { done: done, all: rows.length, left: rows.length - done };
    told.textContent = window.meniscusForms.filledIn(told.dataset.counted, values);
  }

  // The next lot in sight that has no count yet; a search ends where it is found.
  function leadOn(from) {
    const next = rows.slice(rows.indexOf(from) + 1).find(function (row) { return row.offsetParent && !isCounted(row); });
    const place = next ? next.querySelector('input[name$="-found"]') : find;
    place.focus();
    if (place === find) { find.select(); }
  }

  function onEnter(event) {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") { return; }
    event.preventDefault();
    const row = event.target.closest("tr");
    if (row && find.value.trim()) { find.focus(); find.select(); } else { leadOn(row); }
  }

  table.addEventListener("input", tell);
  table.addEventListener("keydown", onEnter);
  find.addEventListener("keydown", onEnter);
  find.addEventListener("input", tell);
  leftOnly.addEventListener("change", tell);
  table.closest("form").addEventListener("draftback", tell);
  table.querySelectorAll("input").forEach(function (field) { field.setAttribute("enterkeyhint", "next"); });
  tell();
})();
