/* Prints the page. [data-print] is shown with scripting only; the browser's own menu does the same. */
(function () {
  "use strict";
  document.querySelectorAll("[data-print]").forEach(function (button) {
    button.addEventListener("click", function () { window.print(); });
  });
})();
