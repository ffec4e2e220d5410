// What every page does: it says when it has become old, and types the key that was scanned. Everything works without it.
// Ages are told by a clock that nobody can set (performance.now); where a machine sleeps and that clock with it, its wall
// clock may only make a page older.
"use strict";
const instant = () => ({ mono: performance.now(), wall: Date.now() });
const since = (moment) => Math.max(performance.now() - moment.mono, Date.now() - moment.wall);
(() => {
  // A page that stands still is old after ten minutes (own choice).
  const OLD = 600000;
  const opened = instant();
  const stale = document.getElementById("stale");
  if (stale) setInterval(() => { if (since(opened) > OLD) stale.hidden = false; }, 1000);

  // A code that was scanned holds the key behind the "#", which no browser sends: it is typed here for whoever scanned it.
  if (/^#[0-9A-Za-z-]{26,40}$/.test(location.hash)) {
    const key = document.getElementById("key");
    if (key) key.value = location.hash.slice(1);
    history.replaceState(null, "", location.pathname + location.search);
    if (key) key.form.requestSubmit();
  }
})();
