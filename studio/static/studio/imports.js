// Saves a long table part by part and says how far it is. Without this script one request saves all of it.
"use strict";

(() => {
  const progress = document.querySelector("[data-import-progress]");
  if (!progress) return;
  const form = progress.closest("form");

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
      let wrong = 0;
      while (start !== null) {
        const saved = await part(button, start);
        if (!saved) {
          wrong = 1;
          break;
        }
        wrong += saved.wrong;
        say(words, { reached: saved.reached, total });
        start = saved.next;
      }
      if (!wrong) {
        location.assign(done);
        return;
      }
      // Checked again, the page shows what is there by now and what is left to put right.
      form.querySelector('button[value="check"]').click();
    } catch {
      say(failed);
      button.disabled = false;
    }
  }

  form.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (!button || !button.hasAttribute("data-import")) return;
    event.preventDefault();
    saveAll(button);
  });
})();
