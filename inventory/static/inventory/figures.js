/* Under each cup and each row of pours: what it costs and what the shelf holds afterwards, while one types.
   Without this file the button "Work out" does it.
   form[data-figures-at="/…/"]   where the figures are asked for; nothing is written there
   [data-figures]                a place for them, found again in the answer by its id                             */
(function () {
  "use strict";

  const AFTER_MS = 400; // long enough to finish a word, short enough to look at
  const form = document.querySelector("form[data-figures-at]");
  if (!form) { return; }
  let timer = 0, turn = 0;

  function put(answer) {
    form.querySelectorAll("[data-figures]").forEach(function (place) {
      const fresh = answer && answer.getElementById(place.id);
      place.replaceChildren(...(fresh ? Array.from(fresh.childNodes) : []));
    });
  }

  // Photos stay on the phone until the session is posted.
  function typed() {
    const body = new FormData(form);
    Array.from(body.entries()).forEach(function (entry) {
      if (entry[1] instanceof File) { body.delete(entry[0]); }
    });
    return body;
  }

  async function ask() {
    const mine = ++turn;
    let page = null;
    try {
      const answer = await fetch(form.dataset.figuresAt, { method: "POST", body: typed() });
      if (answer.ok && !answer.redirected) {
        page = new DOMParser().parseFromString(await answer.text(), "text/html");
      }
    } catch (offline) {
      page = null; // figures of an earlier moment would be wrong: rather none
    }
    if (mine === turn) { put(page); }
  }

  function soon() {
    window.clearTimeout(timer);
    timer = window.setTimeout(ask, AFTER_MS);
  }

  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  form.addEventListener("partsworkedout", soon);
  document.addEventListener("click", function (event) {
    if (event.target.closest("[data-remove-row]")) { soon(); }
  });
  const isFilled = Array.from(form.querySelectorAll("select[name$=-contents]")).some(function (field) { return field.value; });
  if (isFilled) { ask(); }
})();
