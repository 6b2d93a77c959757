/* Copies what stands in a field. [data-copy] names the field, [data-copied] says so on the button afterwards.
   Without https a browser has no clipboard for scripts; the older command then does it, from the marked text. */
(function () {
  "use strict";
  document.querySelectorAll("[data-copy]").forEach(function (button) {
    const field = document.getElementById(button.dataset.copy);
    const words = button.textContent;
    function done() {
      button.textContent = button.dataset.copied;
      setTimeout(function () { button.textContent = words; }, 3000);
    }
    button.addEventListener("click", function () {
      field.select();
      if (navigator.clipboard) {
        navigator.clipboard.writeText(field.value).then(done, function () { field.focus(); });
      } else if (document.execCommand("copy")) {
        done();
      }
    });
  });
})();
