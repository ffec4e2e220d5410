// The page follows the server: a view whenever it changes, and the countdowns to the second by the server's clock.
// Everything works without it, only slower.
"use strict";
(() => {
  const now = document.getElementById("now");
  if (!now || !window.EventSource) return;
  const heard = document.getElementById("heard");
  const urgent = document.getElementById("urgent");
  const lost = document.getElementById("lost");
  // What has to be added to this machine's clock to have the server's.
  let ahead = Number(now.dataset.at) - Date.now();
  let last = Date.now();
  // Since when the line to the server is cut, as far as this browser knows.
  let cut = 0;
  let told = "";

  const tick = () => {
    for (const timer of now.querySelectorAll("[data-until]")) {
      const left = Math.max(0, Math.ceil((Number(timer.dataset.until) - Date.now() - ahead) / 1000));
      const text = Math.floor(left / 60) + ":" + String(left % 60).padStart(2, "0");
      if (timer.textContent !== text) timer.textContent = text;
    }
    // The server says something once a minute. A line that is cut shows sooner, unless it is soon mended.
    const silent = Date.now() - last > 150000 || (cut && Date.now() - cut > 12000);
    if (silent && lost.hidden) {
      const at = new Date(last).toTimeString().slice(0, 5);
      lost.textContent = lost.dataset.say.replace("{}", at);
    }
    lost.hidden = !silent;
  };

  // Said aloud once for each step, not for each number that moves.
  const say = () => {
    const step = now.querySelector("[data-step]");
    document.body.dataset.step = step ? step.dataset.step : "";
    // Whoever stands in front now is the one who rests, or does not feel well.
    const person = step && step.dataset.person;
    const rest = document.querySelector("#rest input[name=person]");
    const unwell = document.getElementById("unwell");
    if (person && rest) rest.value = person;
    if (person && unwell) unwell.href = "/notes?person=" + encodeURIComponent(person) + "#symptoms";
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
    last = Date.now();
    cut = 0;
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
      last = Date.now();
      cut = 0;
      ahead = Number(event.data) - last;
      tick();
    });
    // A refused stream is not tried again by itself: the key may have been withdrawn, or the server is new.
    source.addEventListener("error", () => {
      cut = cut || Date.now();
      if (source.readyState === EventSource.CLOSED) setTimeout(() => location.reload(), 5000);
    });
  };
  window.addEventListener("pagehide", () => source && source.close());
  window.addEventListener("pageshow", (event) => { if (event.persisted) listen(); });
  setInterval(tick, 250);
  tick();
  listen();
})();
