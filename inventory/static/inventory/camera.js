/* A photo that was taken is kept on this device until the session is posted: a form that comes back with something to
   put right, or after the phone went to sleep, has it again. Browsers alone would leave the field empty.
   form[data-draft] input[type=file][capture]   the fields
   form[data-photos-back]                       the form was sent and came back                                     */
(function () {
  "use strict";

  const STORE = "photos";
  const KEEP_MS = 14 * 24 * 60 * 60 * 1000;
  const first = document.querySelector("form[data-draft] input[type=file][capture]") ||
    document.querySelector("form[data-draft] input[type=file]");
  const form = first && first.form;
  if (!form || !window.indexedDB) { return; }
  const mine = (document.body.dataset.user || "") + "." + form.dataset.draft + ".";

  function inStore(mode, work) {
    return new Promise(function (resolve) {
      const opening = window.indexedDB.open("meniscus.photos", 1);
      opening.onupgradeneeded = function () { opening.result.createObjectStore(STORE); };
      opening.onerror = function () { resolve(null); }; // a browser that keeps nothing, as in a private window
      opening.onsuccess = function () {
        const base = opening.result;
        const asked = work(base.transaction(STORE, mode).objectStore(STORE));
        asked.transaction.oncomplete = function () { base.close(); resolve(asked.result); };
        asked.transaction.onabort = function () { base.close(); resolve(null); };
      };
    });
  }

  async function bringBack() {
    for (const field of form.querySelectorAll("input[type=file]")) {
      const kept = await inStore("readonly", function (store) { return store.get(mine + field.name); });
      if (kept && Date.now() - kept.at < KEEP_MS && !field.files.length) {
        const files = new DataTransfer();
        files.items.add(kept.file);
        field.files = files.files;
      }
    }
  }

  form.addEventListener("change", function (event) {
    const field = event.target;
    if (field.type !== "file") { return; }
    const file = field.files[0];
    inStore("readwrite", function (store) {
      return file ? store.put({ at: Date.now(), file: file }, mine + field.name) : store.delete(mine + field.name);
    });
  });

  Promise.resolve(form.draftRead).then(function (draft) {
    if ("photosBack" in form.dataset || draft) {
      bringBack();
    } else {
      inStore("readwrite", function (store) { return store.delete(IDBKeyRange.bound(mine, mine + "\uffff")); });
    }
  });
})();
