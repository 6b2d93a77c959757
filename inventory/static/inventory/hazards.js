/* What the data sheet of a material says, beside its choice as soon as it is made. Without this file it stands there when
   the page comes back.
   template[data-hazards="17"]   what is said of material 17
   [data-row-hazards]            the place for it in a row, whose choice is a select called …-material             */
(function () {
  "use strict";

  function show(select) {
    const row = select.closest("[data-row]");
    const place = row && row.querySelector("[data-row-hazards]");
    if (!place) { return; }
    const said = document.querySelector('template[data-hazards="' + CSS.escape(select.value) + '"]');
    place.replaceChildren(...(said ? [said.content.cloneNode(true)] : []));
  }

  function showAll() { document.querySelectorAll("[data-row] select[name$=-material]").forEach(show); }

  document.addEventListener("change", function (event) {
    if (event.target.matches("select[name$=-material]")) { show(event.target); }
  });
  document.querySelectorAll("form").forEach(function (form) {
    Promise.resolve(form.draftRead).then(function (draft) { if (draft) { showAll(); } });
  });
})();
