/* What became of the touches of a bench once they were sent, or wait to be: bench/outcome.html, filled in.

   meniscusOutcome.show(place, texts, facts)  facts: {queued: the entry in the queue (studio/offline.js) or null,
                                              summary: [sentence], form: address of the session form, isOpen: whether
                                              the plan still has steps to go back to}
   meniscusOutcome.confirmed(problem)         what is sent along when she says yes to what was asked                  */
(function () {
  "use strict";

  function titleOf(state, problem, texts) {
    if (state !== "refused") { return texts[state]; }
    return problem.shortfalls ? texts.short : problem.questions ? texts.check : problem.detail;
  }

  // The sentences in a problem's errors, whatever field and row they belong to.
  function sentencesIn(errors) {
    return typeof errors === "string" ? [errors] : Object.values(errors || {}).flatMap(sentencesIn);
  }

  // What is wrong, or asked, sentence by sentence.
  function askedIn(problem) {
    return (problem.shortfalls || []).map(function (each) { return each.detail; })
      .concat((problem.questions || []).map(function (each) { return each.question; }))
      .concat(Array.from(new Set(sentencesIn(problem.errors))));
  }

  function listed(text) {
    const row = document.createElement("li");
    row.textContent = text;
    return row;
  }

  function show(place, texts, facts) {
    function part(name) { return place.querySelector("[data-outcome-" + name + "]"); }
    const queued = facts.queued;
    const state = queued ? queued.state : "waiting", isSent = state === "sent", isRefused = state === "refused";
    const problem = isRefused ? queued.problem : {}, isShort = Boolean(problem.shortfalls);
    const rows = askedIn(problem).map(listed);
    place.dataset.outcome = state;
    part("title").textContent = titleOf(state, problem, texts);
    part("summary").textContent = facts.summary.filter(Boolean).join("; ");
    part("asked").replaceChildren(...rows);
    part("asked").hidden = !rows.length;
    part("session").hidden = !isSent;
    if (isSent) { part("session").href = queued.answer.address; }
    part("weigh").hidden = !isSent || !queued.answer.weighing;
    if (isSent) { part("weigh").href = queued.answer.weighing || ""; }
    part("form").hidden = !isRefused;
    part("form").href = facts.form;
    part("gain").hidden = !isShort;
    part("confirm").hidden = !problem.questions || isShort;
    part("retry").hidden = isSent || isRefused;
    part("back").hidden = isSent || !facts.isOpen;
    part("discard").hidden = !isRefused;
  }

  function confirmed(problem) {
    const tokens = (problem.questions || []).map(function (each) { return each.token; });
    return { confirmed: tokens, confirm_gain: Boolean(problem.shortfalls) };
  }

  window.meniscusOutcome = { show: show, confirmed: confirmed };
})();
