// The bench programme: a large clock that walks through the steps, with the recorder beside it.

import { recorders } from "./recorder.js";
import { clock, tone, wake } from "./sound.js";

const [recorder] = recorders();
const guide = document.querySelector("[data-programme]");

if (guide) {
  const big = guide.querySelector(".big");
  const now = guide.querySelector(".now");
  const start = guide.querySelector("[data-start]");
  const steps = [...guide.querySelectorAll("[data-seconds]")];
  const rate = Number(guide.dataset.rate) || 1;
  let at = -1;
  let ends = 0;
  let timer;

  const show = () => {
    const left = ((ends - performance.now()) / 1000) * rate;
    if (left <= 0) next();
    else big.textContent = clock(left);
  };

  const next = () => {
    steps[at]?.removeAttribute("aria-current");
    steps[at]?.classList.add("over");
    at += 1;
    const step = steps[at];
    if (!step) {
      finish();
      return;
    }
    step.setAttribute("aria-current", "step");
    now.textContent = step.querySelector(".what").textContent;
    ends = performance.now() + (Number(step.dataset.seconds) * 1000) / rate;
    if (at > 0) tone(660, 0.25, 2);
    show();
  };

  const finish = () => {
    clearInterval(timer);
    big.textContent = "00:00";
    now.textContent = guide.dataset.finished;
    start.textContent = guide.dataset.again;
    start.disabled = false;
    tone(520, 0.5, 3);
    recorder?.stop();
  };

  start.addEventListener("click", async () => {
    wake();
    start.disabled = true;
    for (const step of steps) step.classList.remove("over");
    if (recorder && guide.querySelector("[data-with-recording]")?.checked) await recorder.start();
    at = -1;
    next();
    timer = setInterval(show, 200);
  });
}
