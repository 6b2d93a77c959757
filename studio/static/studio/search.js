/* Keys of the search; it works without them.
   /                        puts the cursor into the search box in sight ([data-search]), for those who have keys on
   arrow down, arrow up     go from the box to the results ([data-hits] a) and through them, and back              */
(function () {
  "use strict";

  function boxInSight() {
    return Array.from(document.querySelectorAll("[data-search]")).find(function (box) { return box.offsetParent; });
  }

  function isTyping(element) {
    return element.isContentEditable || /^(input|select|textarea)$/i.test(element.tagName);
  }

  function step(event, by) {
    const hits = Array.from(document.querySelectorAll("[data-hits] a"));
    const box = boxInSight();
    const at = hits.indexOf(document.activeElement);
    if (!hits.length || (at < 0 && document.activeElement !== box)) { return; }
    event.preventDefault();
    const to = at + by; // from the box (-1) down to the first
    if (to < 0) { if (box && by < 0) { box.focus(); } return; }
    hits[Math.min(to, hits.length - 1)].focus();
  }

  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) { return; }
    if (event.key === "ArrowDown") { step(event, 1); }
    if (event.key === "ArrowUp") { step(event, -1); }
    if (event.key !== "/" || isTyping(event.target) || !document.getElementById("keys")) { return; }
    const box = boxInSight();
    if (box) { event.preventDefault(); box.focus(); box.select(); }
  });
})();
