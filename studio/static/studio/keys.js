/* Keyboard shortcuts; every page works without them. The dialog #keys is on the page of whoever has them on.
   ?            lists them
   g, then a    opens the link of the dialog with data-key="a"                                                    */
(function () {
  "use strict";

  const WAIT_MS = 1500; // so long a g waits for the key after it
  const dialog = document.getElementById("keys");
  let leader = 0;

  function isTyping(element) {
    return element.isContentEditable || /^(input|select|textarea)$/i.test(element.tagName);
  }

  if (dialog) { dialog.querySelector("[data-close]").addEventListener("click", function () { dialog.close(); }); }

  document.addEventListener("keydown", function (event) {
    if (!dialog || event.ctrlKey || event.metaKey || event.altKey || event.isComposing || isTyping(event.target)) { return; }
    if (event.key === "?") {
      event.preventDefault();
      if (!dialog.open) { dialog.showModal(); }
      return;
    }
    const waits = Date.now() - leader < WAIT_MS;
    const link = waits ? dialog.querySelector('[data-key="' + CSS.escape(event.key) + '"]') : null;
    leader = !waits && event.key === "g" ? Date.now() : 0;
    if (link) { event.preventDefault(); link.click(); }
  });
})();
