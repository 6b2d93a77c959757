/* Timers of the bench, and its sounds. A timer ends at a time of day that is kept with the touches, so it goes on while
   the phone sleeps; how long each kind of step takes is kept under "bench-timers".

   meniscusTimers(bench) takes {root, texts, offline, step(), record(), alter(change)}, the bench of bench.js, and gives
   {show(), start(timer), shift(timer, seconds), recall(), tick()}.                                                   */
(function () {
  "use strict";

  const LEAST_SECONDS = 30, NAME = "bench-timers";
  let audio = null;

  function sound() { // browsers let a page make a sound only after a touch
    const Audio = window.AudioContext || window.webkitAudioContext;
    if (!audio && Audio) { audio = new Audio(); }
  }

  function tick(pattern) { if (navigator.vibrate) { navigator.vibrate(pattern || 40); } }

  function ring() {
    tick([200, 100, 200]);
    if (!audio) { return; }
    [0, 0.35, 0.7].forEach(function (delay) {
      const tone = audio.createOscillator(), volume = audio.createGain(), at = audio.currentTime + delay;
      tone.frequency.value = 880;
      volume.gain.setValueAtTime(0.25, at);
      volume.gain.exponentialRampToValueAtTime(0.001, at + 0.3);
      tone.connect(volume).connect(audio.destination);
      tone.start(at);
      tone.stop(at + 0.3);
    });
  }

  function lengthOf(timer) { return Number(timer.dataset.timer) * 1000; }

  function clock(milliseconds) {
    const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
    return Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
  }

  window.meniscusTimers = function (bench) {
    function endOf(step) { return bench.record() && bench.record().ends[step.id]; }

    function show() {
      const step = bench.step(), timer = step && step.querySelector("[data-timer]");
      if (!timer) { return; }
      const end = endOf(step), rest = end ? end - Date.now() : lengthOf(timer);
      const isUp = Boolean(end) && rest <= 0;
      timer.querySelector("[data-clock]").textContent = isUp ? bench.texts.up : clock(rest);
      timer.classList.toggle("is-up", isUp);
      timer.querySelector("[data-start]").textContent = end && !isUp ? bench.texts.stop : bench.texts.start;
      if (isUp && !timer.dataset.rung) { timer.dataset.rung = "yes"; ring(); }
      if (!isUp) { delete timer.dataset.rung; }
    }

    function start(timer) {
      const id = bench.step().id;
      sound();
      bench.alter(function (record) {
        const isRunning = record.ends[id] && record.ends[id] > Date.now();
        if (isRunning) { delete record.ends[id]; } else { record.ends[id] = Date.now() + lengthOf(timer); }
      });
    }

    function setLength(kind, seconds) {
      bench.root.querySelectorAll("[data-kind=" + kind + "] [data-timer]").forEach(function (timer) {
        timer.dataset.timer = String(seconds);
      });
    }

    // While it runs, this run alone is longer or shorter; otherwise every timer of the kind is from now on.
    function shift(timer, seconds) {
      const step = bench.step(), id = step.id, end = endOf(step);
      if (end && end > Date.now()) {
        bench.alter(function (record) { record.ends[id] = Math.max(Date.now(), record.ends[id] + seconds * 1000); });
        return;
      }
      const length = Math.max(LEAST_SECONDS, Number(timer.dataset.timer) + seconds), kind = step.dataset.kind;
      setLength(kind, length);
      bench.offline.update(NAME, function (now) { return Object.assign(now || {}, { [kind]: length }); });
      if (end) { bench.alter(function (record) { delete record.ends[id]; }); } else { show(); }
    }

    async function recall() {
      const lengths = await bench.offline.read(NAME) || {};
      Object.keys(lengths).forEach(function (kind) { setLength(kind, lengths[kind]); });
    }

    window.setInterval(show, 500);
    return { show: show, start: start, shift: shift, recall: recall, tick: tick };
  };
})();
