// The run-in clock. The server keeps the time; this page only shows it, so that a reload or a
// closed laptop loses nothing. When a leg is full the page sounds and asks the server anew.

import { clock, tone, wake } from "./sound.js";

const panel = document.querySelector("[data-run-in]");

if (panel) {
  const big = panel.querySelector(".big");
  const data = panel.dataset;
  const rate = Number(data.rate) || 1;
  const began = Date.now();
  let full = false;

  // Any touch on the page lets the browser make sound later.
  document.addEventListener("pointerdown", wake, { once: true });
  document.addEventListener("keydown", wake, { once: true });

  const show = () => {
    const left = Number(data.left) - ((Date.now() - began) / 1000) * rate;
    big.textContent = clock(left);
    if (left > 0 || full) return;
    full = true;
    panel.querySelector(".now").textContent = data.turn;
    tone(880, 0.4, 3);
    setTimeout(() => location.reload(), 2200);
  };

  if (data.state === "going") {
    show();
    setInterval(show, 250);
    // Keep the screen awake where the browser can: a dark phone makes no sound.
    navigator.wakeLock?.request("screen").catch(() => {});
  }
  if (data.state === "full") {
    // After a reload the tone comes back with the first touch, for who was out of the room.
    document.addEventListener("pointerdown", () => tone(880, 0.4, 1), { once: true });
  }
}
