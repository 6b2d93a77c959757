// Saves a long table part by part and says how far it is. Without this script one request saves all of it, and so it
// does for the part in which something is wrong: the page that answers says what.
"use strict";

(() => {
  const progress = document.querySelector("[data-import-progress]");
  if (!progress) return;
  const form = progress.closest("form");
  let isForReasons = false;

  function say(words, values = {}) {
    progress.hidden = false;
    progress.textContent = words.replace(/\{(\w+)\}/g, (_whole, name) => values[name] ?? "");
  }

  async function part(button, start) {
    const body = new FormData(form);
    body.set("do", button.value);
    body.set("start", start);
    const answer = await fetch(form.action || location.href, {
      method: "POST",
      body,
      headers: { Accept: "application/json" },
      credentials: "same-origin",
    });
    if (answer.status === 409) return null; // something was changed since the rows were shown
    if (!answer.ok) throw new Error(String(answer.status));
    return answer.json();
  }

  async function saveAll(button) {
    const { total, words, failed, done } = progress.dataset;
    button.disabled = true;
    try {
      let start = 0;
      let wrongFrom = null;
      while (start !== null) {
        const saved = await part(button, start);
        if (!saved) {
          form.querySelector('button[value="check"]').click();
          return;
        }
        if (saved.wrong.length) wrongFrom ??= start;
        say(words, { reached: saved.reached, total });
        start = saved.next;
      }
      if (wrongFrom === null) {
        location.assign(done);
        return;
      }
      form.elements.start.value = wrongFrom;
      button.disabled = false;
      isForReasons = true;
      form.requestSubmit(button);
    } catch {
      say(failed);
      button.disabled = false;
    }
  }

  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (isForReasons || !button || !button.hasAttribute("data-import")) return;
    event.preventDefault();
    saveAll(button);
  });
})();
