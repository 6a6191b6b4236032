// The run-in clock. The server keeps the time; this page only shows it, so that a reload or a
// closed laptop loses nothing.

import { clock, tone, wake } from "./sound.js";

const panel = document.querySelector("[data-run-in]");

if (panel) {
  const big = panel.querySelector(".big");
  const now = panel.querySelector(".now");
  const data = panel.dataset;
  const legs = JSON.parse(document.getElementById("legs").textContent);
  const rate = Number(data.rate) || 1;
  const total = legs.reduce((sum, leg) => sum + leg.seconds, 0);
  const began = performance.now();
  const already = Number(data.elapsed);
  let leg = Number(data.leg);
  let asked = false;

  // Any touch on the page lets the browser make sound later.
  document.addEventListener("pointerdown", wake, { once: true });
  document.addEventListener("keydown", wake, { once: true });

  const elapsed = () =>
    data.state === "running" ? already + ((performance.now() - began) / 1000) * rate : already;

  const ring = (last) => (last ? tone(520, 0.5, 3) : tone(880, 0.4, 2));

  const show = () => {
    const gone = Math.min(elapsed(), total);
    let before = 0;
    let at = legs.length;
    for (const [index, one] of legs.entries()) {
      if (gone < before + one.seconds) {
        at = index;
        break;
      }
      before += one.seconds;
    }
    const done = at >= legs.length;
    big.textContent = clock(done ? 0 : before + legs[at].seconds - gone);
    now.textContent = done ? data.finished : legs[at].words;
    for (const row of panel.querySelectorAll("[data-leg]")) {
      const index = Number(row.dataset.leg);
      row.classList.toggle("over", index < at);
      if (index === at) row.setAttribute("aria-current", "step");
      else row.removeAttribute("aria-current");
    }
    if (at > leg) {
      leg = at;
      ring(done);
      tell();
    }
  };

  // Let the server write down the change, then show what it says.
  const tell = () => {
    if (asked) return;
    asked = true;
    setTimeout(() => location.reload(), 1800);
  };

  show();
  if (data.state === "running") setInterval(show, 250);
}
