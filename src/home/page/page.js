// The page follows the server: a view whenever it changes, and the countdowns to the second by the server's clock.
// Everything works without it, only slower. Ages are told by a clock that nobody can set (performance.now); where a
// machine sleeps and that clock with it, its wall clock may only make a page older.
"use strict";
(() => {
  // A page that stands still is old after ten minutes (own choice).
  const OLD = 600000;
  // What the server shows was made at least once a minute.
  const LATE = 150000;
  const instant = () => ({ mono: performance.now(), wall: Date.now() });
  const since = (moment) => Math.max(performance.now() - moment.mono, Date.now() - moment.wall);
  const opened = instant();
  const stale = document.getElementById("stale");
  if (stale) setInterval(() => { if (since(opened) > OLD) stale.hidden = false; }, 1000);

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
    told = text;
    const loud = step && step.hasAttribute("data-urgent");
    urgent.textContent = loud ? text : "";
    heard.textContent = loud ? "" : text;
  };

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
