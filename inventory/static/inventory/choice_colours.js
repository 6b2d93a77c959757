/* The colour of a paint or a mix that is chosen from a list, as a square before its name: browsers colour no options.
   script#choice-colours    {"m17": "#1f5f6b", "r3": …}: of material 17, of what recipe 3 makes
   select                   whose value is "17", "m17" or "r3"; its name ends as in NAMES                          */
(function () {
  "use strict";

  const colours = JSON.parse(document.getElementById("choice-colours").textContent);
  const NAMES = /(^|-)(material|contents|recipe|medium|colour_\d+)$/;

  function show(select) {
    if (!NAMES.test(select.name)) { return; }
    const colour = colours[select.value] || colours["m" + select.value] || "";
    select.classList.toggle("has-colour", Boolean(colour));
    select.style.setProperty("--chosen", colour);
  }

  function showAll() { document.querySelectorAll("main select").forEach(show); }

  // A row that was copied, or a draft that was filled in, says nothing of its selects by itself.
  document.addEventListener("change", showAll);
  document.addEventListener("click", function () { window.setTimeout(showAll, 0); });
  document.querySelectorAll("form").forEach(function (form) { Promise.resolve(form.draftRead).then(showAll); });
})();
