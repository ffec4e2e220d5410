// *Now* follows the server: a view whenever it changes, and the countdowns to the second by the server's clock. Everything
// works without it, only slower. It comes behind page.js in one file.
(() => {
  // What the server shows was made at least once a minute.
  const LATE = 150000;
  const now = document.getElementById("now");
  if (!now || !window.EventSource) return;
  const heard = document.getElementById("heard");
  const urgent = document.getElementById("urgent");
  const lost = document.getElementById("lost");
  const asOf = document.getElementById("as-of");
  // The server's clock when it last said something, and how long before that what it shows was made.
  let wall = Number(now.dataset.at);
  let late = 0;
  let last = instant();
  // Since when the line to the server is cut, as far as this browser knows.
  let cut = null;
  let told = "";

  // The server's clock now.
  const clock = () => wall + performance.now() - last.mono;
  const shown = (at) => new Date(at + Number(asOf.dataset.offset) * 1000).toISOString().slice(11, 16);

  const tick = () => {
    for (const timer of now.querySelectorAll("[data-until]")) {
      const left = Math.max(0, Math.ceil((Number(timer.dataset.until) - clock()) / 1000));
      const text = Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0");
      if (timer.textContent !== text) timer.textContent = text;
    }
    // Time that passes; for whoever wants nothing to move, in whole minutes.
    for (const bar of now.querySelectorAll("[data-ends]")) {
      const past = bar.max - (Number(bar.dataset.ends) - clock()) / 1000;
      bar.value = still.matches ? Math.floor(past / 60) * 60 : past;
    }
    // The server says something once a minute. A line that is cut shows sooner, unless it is soon mended.
    const silent = since(last) + late > LATE || (cut && since(cut) > 12000);
    if (silent && lost.hidden) lost.textContent = lost.dataset.say.replace("{}", shown(wall - late));
    lost.hidden = !silent;
    posture();
  };

  // One item of posture at a time, where there is room for its size. Whoever wants nothing to move has the list.
  const still = window.matchMedia("(prefers-reduced-motion: reduce)");
  const posture = () => {
    const list = now.querySelector(".technique");
    if (!list || still.matches) return;
    const items = list.querySelectorAll("li");
    const turn = Math.floor(clock() / 7000) % items.length;
    list.classList.add("one");
    items.forEach((item, place) => item.classList.toggle("shown", place === turn));
  };

  const hears = () => {
    last = instant();
    cut = null;
  };

  // Said aloud once for each step, not for each number that moves. Its element stays: what replaces the inside of a live
  // region is often not said.
  const say = () => {
    const step = now.querySelector("[data-step]");
    document.body.dataset.step = step ? step.dataset.step : "";
    // Whoever stands in front now is the one who rests, or does not feel well.
    const person = step && step.dataset.person;
    const rest = document.querySelector("#rest input[name=person]");
    const unwell = document.getElementById("unwell");
    if (person && rest) rest.value = person;
    if (person && unwell) unwell.href = "/notes?person=" + encodeURIComponent(person) + "#symptoms";
    const begin = document.querySelector("#begin button");
    if (person && begin) [begin.value, begin.textContent] = [person, step.dataset.begin || ""];
    for (const field of document.querySelectorAll("#answer input[name=person]")) if (person) field.value = person;
    const alerts = document.querySelector("#answer input[name=alerts]");
    if (alerts && step) alerts.value = step.dataset.alerts || "";
    const text = step && step.dataset.heard || "";
    if (text === told) return;
    // What was there when the page was opened is no news.
    if (told) sound();
    told = text;
    const loud = step && step.hasAttribute("data-urgent");
    urgent.textContent = loud ? text : "";
    heard.textContent = loud ? "" : text;
  };

  // Sound, and a screen that stays on: only where this browser was asked for them, which it remembers.
  const asked = (name) => {
    try { return localStorage.getItem(name) === "yes"; } catch { return false; }
  };
  const remember = (name, wanted) => {
    try { localStorage.setItem(name, wanted ? "yes" : "no"); } catch { /* for this page only */ }
  };
  const aids = document.getElementById("aids");
  const [aloud, awake] = ["aloud", "awake"].map((id) => document.getElementById(id));
  const on = (button) => button && button.getAttribute("aria-pressed") === "true";
  let ears = null;
  // A voice of this machine: one from elsewhere would be sent what it says.
  const voice = () => (window.speechSynthesis ? speechSynthesis.getVoices() : [])
    .find((one) => one.localService && one.lang.slice(0, 2) === document.documentElement.lang.slice(0, 2));
  const chime = () => [659, 880].forEach((pitch, nth) => {
    const [note, loudness, at] = [ears.createOscillator(), ears.createGain(), ears.currentTime + nth * 0.25];
    note.frequency.value = pitch;
    loudness.gain.setValueAtTime(0, at);
    loudness.gain.linearRampToValueAtTime(0.3, at + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.001, at + 0.6);
    note.connect(loudness).connect(ears.destination);
    note.start(at);
    note.stop(at + 0.6);
  });
  const hints = () => {
    const said = aids.querySelector("p");
    const asleep = ears && ears.state !== "running";
    said.textContent = !on(aloud) ? "" : asleep ? said.dataset.asleep : voice() ? "" : said.dataset.noVoice;
  };
  // One chime and one sentence.
  const sound = () => {
    if (!on(aloud) || !ears || ears.state !== "running") return;
    chime();
    const [head, first] = ["#step", ".say"].map((part) => now.querySelector(part));
    const chosen = voice();
    if (!chosen || !head) return;
    const sentence = new SpeechSynthesisUtterance(head.textContent + (first ? ": " + first.textContent : ""));
    sentence.voice = chosen;
    sentence.lang = chosen.lang;
    speechSynthesis.cancel();
    speechSynthesis.speak(sentence);
  };
  const listens = async () => {
    ears = ears || new AudioContext();
    ears.onstatechange = hints;
    hints();
    await ears.resume();
    hints();
  };
  // While somebody sits with the cuff, or is told to.
  const sessions = ["rest", "resting", "rested", "measuring", "wait", "second", "third", "repeat", "help"];
  let lock = null;
  const watchOver = async () => {
    const wanted = on(awake) && sessions.includes(document.body.dataset.step) && document.visibilityState === "visible";
    if (wanted === Boolean(lock)) return;
    if (!wanted) {
      const held = lock;
      lock = null;
      (await held)?.release();
      return;
    }
    lock = navigator.wakeLock.request("screen").then((held) => {
      held.addEventListener("release", () => { lock = null; });
      return held;
    }).catch(() => { lock = null; });
  };
  const offer = (button, there, turned) => {
    if (!button || !there) return;
    aids.hidden = button.hidden = false;
    button.setAttribute("aria-pressed", String(asked(button.id)));
    button.addEventListener("click", () => {
      const wanted = !on(button);
      button.setAttribute("aria-pressed", String(wanted));
      remember(button.id, wanted);
      turned(wanted);
    });
    if (asked(button.id)) turned(null);
  };
  offer(aloud, window.AudioContext, (wanted) => {
    if (wanted === false) {
      if (window.speechSynthesis) speechSynthesis.cancel();
      hints();
    } else listens().then(() => { if (wanted) sound(); });
  });
  offer(awake, navigator.wakeLock, watchOver);
  document.addEventListener("visibilitychange", () => { if (awake) watchOver(); });
  // A browser lets nothing be heard before somebody touched the page.
  for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, () => { if (on(aloud) && ears) listens(); });
  if (window.speechSynthesis) speechSynthesis.addEventListener("voiceschanged", () => { if (aids) hints(); });

  const show = (html) => {
    wall = clock();
    late = 0;
    hears();
    // Whoever is on a link in it stays there.
    const focus = document.activeElement && now.contains(document.activeElement)
      ? document.activeElement.getAttribute("href") : null;
    // Rendered and escaped by this page's own server; the policy lets nothing in it run.
    now.innerHTML = html;
    if (focus) for (const link of now.querySelectorAll("a")) if (link.getAttribute("href") === focus) link.focus();
    tick();
    say();
    if (awake) watchOver();
  };

  let source;
  const listen = () => {
    source = new EventSource(now.dataset.source);
    source.addEventListener("now", (event) => show(event.data));
    source.addEventListener("clock", (event) => {
      const [at, uptime, made] = event.data.split(" ").map(Number);
      wall = at;
      late = uptime - made;
      hears();
      asOf.textContent = asOf.dataset.say.replace("{}", shown(wall - late));
      tick();
    });
    // A refused stream is not tried again by itself: the key may have been withdrawn, or the server is new.
    source.addEventListener("error", () => {
      cut = cut || instant();
      if (source.readyState === EventSource.CLOSED) setTimeout(() => location.reload(), 5000);
    });
  };
  window.addEventListener("pagehide", () => source && source.close());
  window.addEventListener("pageshow", (event) => { if (event.persisted) listen(); });
  setInterval(tick, 250);
  tick();
  listen();
})();
