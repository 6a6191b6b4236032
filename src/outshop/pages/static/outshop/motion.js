// A clip with the model's track drawn over it, a ruler to drag, and the speed running along.

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const HANDLE = 16; // pixels of the screen: big enough for a thumb

function sharpen(canvas) {
  const sharp = window.devicePixelRatio || 1;
  const { clientWidth: width, clientHeight: height } = canvas;
  canvas.width = Math.round(width * sharp);
  canvas.height = Math.round(height * sharp);
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  return { pen, width, height };
}

function at(track, time) {
  if (!track.length || time < track[0].t_s - 0.1 || time > track[track.length - 1].t_s + 0.1) return null;
  let low = 0;
  let high = track.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (track[middle].t_s <= time) low = middle;
    else high = middle;
  }
  const a = track[low];
  const b = track[high];
  const share = b.t_s > a.t_s ? Math.min(1, Math.max(0, (time - a.t_s) / (b.t_s - a.t_s))) : 0;
  const mix = (key) => a[key] + share * (b[key] - a[key]);
  return { x: mix("x_px"), y: mix("y_px"), v: mix("v_m_s") };
}

function start(frame, found) {
  const video = frame.querySelector("video");
  const over = frame.querySelector("[data-over]");
  const curve = frame.querySelector("[data-curve]");
  const form = document.querySelector("form[data-ruler]");
  const pick = document.querySelector("form[data-pick]");
  const track = found.track || [];
  const picture = () => found.picture || { width: video.videoWidth || 1, height: video.videoHeight || 1 };
  const field = (name) => form && form.elements.namedItem(name);
  const names = ["x1", "y1", "x2", "y2"];
  let ends = found.ruler ? [...found.ruler.ends_px] : null;
  let held = null;

  const write = () => ends && names.forEach((name, i) => { if (field(name)) field(name).value = ends[i].toFixed(1); });
  const scale = () => over.clientWidth / picture().width;

  const paintOver = () => {
    const { pen, width, height } = sharpen(over);
    const k = scale();
    pen.clearRect(0, 0, width, height);
    pen.strokeStyle = colour("--accent") || "#c40";
    pen.lineWidth = 2;
    pen.beginPath();
    track.forEach((p, i) => (i ? pen.lineTo(p.x_px * k, p.y_px * k) : pen.moveTo(p.x_px * k, p.y_px * k)));
    pen.stroke();
    const now = at(track, video.currentTime);
    if (now) {
      pen.fillStyle = colour("--stop") || "#b00";
      pen.beginPath();
      pen.arc(now.x * k, now.y * k, 6, 0, 2 * Math.PI);
      pen.fill();
    }
    if (!ends) return;
    pen.strokeStyle = pen.fillStyle = "#fff";
    for (const [line, ink] of [[5, "#000"], [2, "#fff"]]) {
      pen.lineWidth = line;
      pen.strokeStyle = ink;
      pen.beginPath();
      pen.moveTo(ends[0] * k, ends[1] * k);
      pen.lineTo(ends[2] * k, ends[3] * k);
      for (const i of [0, 2]) {
        pen.moveTo(ends[i] * k, ends[i + 1] * k - HANDLE);
        pen.lineTo(ends[i] * k, ends[i + 1] * k + HANDLE);
      }
      pen.stroke();
    }
  };

  const paintCurve = () => {
    if (!curve) return;
    const { pen, width, height } = sharpen(curve);
    const duration = video.duration || found.duration_s || 1;
    const top = 1.1 * Math.max(0.001, ...track.map((p) => Math.abs(p.v_m_s)));
    const low = track.some((p) => p.v_m_s < -0.02 * top) && track.some((p) => p.v_m_s > 0.02 * top);
    const zero = low ? height / 2 : height - 14;
    const tall = low ? height / 2 - 14 : height - 28;
    const x = (t) => (t / duration) * width;
    const y = (v) => zero - ((low ? v : Math.abs(v)) / top) * tall;
    pen.fillStyle = colour("--wash");
    for (const part of found.steady || []) pen.fillRect(x(part.start_s), 0, x(part.end_s) - x(part.start_s), height);
    pen.strokeStyle = colour("--faint") || "#888";
    pen.strokeRect(0, zero, width, 0);
    pen.strokeStyle = colour("--ink");
    pen.lineWidth = 1.5;
    pen.beginPath();
    track.forEach((p, i) => (i ? pen.lineTo(x(p.t_s), y(p.v_m_s)) : pen.moveTo(x(p.t_s), y(p.v_m_s))));
    pen.stroke();
    pen.fillStyle = colour("--stop") || "#b00";
    pen.fillRect(x(video.currentTime), 0, 2, height);
    const now = at(track, video.currentTime);
    pen.fillStyle = colour("--ink");
    pen.font = "13px system-ui, sans-serif";
    pen.fillText(`${frame.dataset.speed} ${now ? Math.abs(now.v).toFixed(3) : "–"}`, 6, 14);
  };

  const paint = () => { paintOver(); paintCurve(); };

  const place = (event) => {
    const box = over.getBoundingClientRect();
    const k = scale();
    return [(event.clientX - box.left) / k, (event.clientY - box.top) / k];
  };

  // the picture lets clicks through to the player, but for the handles and the tap
  const wanted = (event) => {
    if (!ends) return null;
    const [x, y] = place(event);
    const reach = (1.6 * HANDLE) / scale();
    return [0, 2].find((i) => Math.hypot(ends[i] - x, ends[i + 1] - y) < reach) ?? null;
  };
  let tapping = false;
  const holder = over.parentElement;
  holder.addEventListener("pointermove", (event) => {
    if (held !== null) {
      const [x, y] = place(event);
      ends[held] = Math.min(picture().width, Math.max(0, x));
      ends[held + 1] = Math.min(picture().height, Math.max(0, y));
      write();
      paintOver();
      return;
    }
    over.classList.toggle("grab", tapping || wanted(event) !== null);
  });
  const take = (event) => {
    if (tapping && pick) {
      const [x, y] = place(event);
      pick.elements.namedItem("pick_x").value = x.toFixed(1);
      pick.elements.namedItem("pick_y").value = y.toFixed(1);
      event.preventDefault();
      pick.submit();
      return;
    }
    held = wanted(event);
    if (held !== null) {
      event.preventDefault();
      event.stopPropagation();
      holder.setPointerCapture(event.pointerId);
    }
  };
  holder.addEventListener("pointerdown", take, true);
  holder.addEventListener("click", (event) => { if (tapping || over.classList.contains("grab")) event.preventDefault(); }, true);
  holder.addEventListener("pointerup", () => { held = null; });
  const button = pick && pick.querySelector("[data-tap]");
  if (button) button.addEventListener("click", () => {
    tapping = !tapping;
    button.setAttribute("aria-pressed", String(tapping));
    over.classList.toggle("grab", tapping);
    video.pause();
  });
  if (form) form.addEventListener("input", () => {
    const typed = names.map((name) => Number.parseFloat(field(name).value.replace(",", ".")));
    if (typed.every(Number.isFinite)) { ends = typed; paintOver(); }
  });
  if (curve) curve.addEventListener("click", (event) => {
    video.currentTime = (event.offsetX / curve.clientWidth) * (video.duration || found.duration_s || 1);
  });
  const run = () => { paint(); if (!video.paused && !video.ended) requestAnimationFrame(run); };
  for (const name of ["play", "timeupdate", "seeked", "loadedmetadata"]) video.addEventListener(name, run);
  video.addEventListener("error", () => { frame.querySelector("[data-unplayable]").hidden = false; });
  if (!ends) video.addEventListener("loadedmetadata", () => {
    const { width, height } = picture();
    ends = [0.3 * width, 0.7 * height, 0.7 * width, 0.7 * height];
    write();
    paint();
  });
  // begin where the model stands at the ruler, so that its ends can be judged at once
  const begin = () => {
    if (!ends || !track.length) return;
    const middle = (ends[0] + ends[2]) / 2;
    const near = track.reduce((a, b) => (Math.abs(b.x_px - middle) < Math.abs(a.x_px - middle) ? b : a));
    video.currentTime = near.t_s;
  };
  if (video.readyState >= 1) begin();
  else video.addEventListener("loadedmetadata", begin, { once: true });
  new ResizeObserver(paint).observe(frame);
  write();
  paint();
}

for (const frame of document.querySelectorAll("[data-motion]")) {
  if (frame.dataset.track) {
    fetch(frame.dataset.track).then((answer) => answer.json()).then((found) => start(frame, found));
  } else start(frame, {});
}
