// A clip with the model's track drawn over it, a ruler to drag, and the speed running along.

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const NAMES = ["x1", "y1", "x2", "y2"];

function sharpen(canvas) {
  const sharp = window.devicePixelRatio || 1;
  const { clientWidth: width, clientHeight: height } = canvas;
  canvas.width = Math.round(width * sharp);
  canvas.height = Math.round(height * sharp);
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  return { pen, width, height };
}

// place and speed at a moment, between the two nearest frames; null while the model is not seen
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

function line(pen, points, close) {
  pen.beginPath();
  points.forEach(([x, y], i) => (i ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  if (close) pen.closePath();
  pen.stroke();
}

// light over dark, to be seen on any picture
function twice(pen, draw) {
  for (const [width, ink] of [[5, "#000"], [2, "#fff"]]) {
    pen.lineWidth = width;
    pen.strokeStyle = ink;
    draw();
  }
}

function paintPicture(view) {
  const { pen, width, height } = sharpen(view.over);
  const k = view.scale();
  pen.clearRect(0, 0, width, height);
  const corners = (view.found.ruler && view.found.ruler.markers_px) || [];
  for (let i = 0; i + 7 < corners.length; i += 8) {
    const quad = [0, 2, 4, 6].map((j) => [corners[i + j] * k, corners[i + j + 1] * k]);
    twice(pen, () => line(pen, quad, true));
  }
  pen.strokeStyle = colour("--accent") || "#c40";
  pen.lineWidth = 2;
  line(pen, view.track.map((p) => [p.x_px * k, p.y_px * k]), false);
  const now = at(view.track, view.time());
  if (now) {
    pen.fillStyle = colour("--stop") || "#b00";
    pen.beginPath();
    pen.arc(now.x * k, now.y * k, 6, 0, 2 * Math.PI);
    pen.fill();
  }
  if (!view.ends) return;
  const [x1, y1, x2, y2] = view.ends.map((v) => v * k);
  twice(pen, () => line(pen, [[x1, y1], [x2, y2]], false));
  view.handles.forEach((handle, i) => {
    handle.style.left = `${view.ends[2 * i] * k}px`;
    handle.style.top = `${view.ends[2 * i + 1] * k}px`;
    handle.setAttribute("aria-valuenow", view.ends[2 * i].toFixed(0));
    handle.setAttribute("aria-valuetext", `${view.ends[2 * i].toFixed(0)}, ${view.ends[2 * i + 1].toFixed(0)}`);
  });
}

// a step of 1, 2 or 5 times a power of ten that parts a length into a few pieces
function step(length, pieces) {
  const raw = length / pieces;
  const power = 10 ** Math.floor(Math.log10(raw));
  return power * [1, 2, 5, 10].find((n) => n * power >= raw);
}

function paintCurve(view) {
  const { pen, width, height } = sharpen(view.curve);
  const { found, track } = view;
  const duration = view.duration();
  const top = 1.15 * Math.max(0.001, ...track.map((p) => Math.abs(p.v_m_s)));
  const both = track.some((p) => p.v_m_s < -0.02 * top) && track.some((p) => p.v_m_s > 0.02 * top);
  const foot = 18;
  const zero = both ? (height - foot) / 2 : height - foot;
  const tall = zero - 4;
  const x = (t) => (t / duration) * width;
  const y = (v) => zero - ((both ? v : Math.abs(v)) / top) * tall;
  pen.fillStyle = colour("--wash");
  for (const part of found.steady || []) pen.fillRect(x(part.start_s), 0, x(part.end_s) - x(part.start_s), height - foot);
  pen.font = "12px system-ui, sans-serif";
  pen.lineWidth = 1;
  pen.strokeStyle = colour("--rule") || "#888";
  pen.fillStyle = colour("--faint") || "#888";
  const seconds = step(duration, Math.max(3, width / 60));
  for (let t = seconds; t < duration; t += seconds) {
    line(pen, [[x(t), height - foot], [x(t), height - foot + 4]], false);
    pen.fillText(`${+t.toFixed(2)} s`, Math.min(x(t) + 3, width - 34), height - 4);
  }
  const speeds = step(top, 3);
  for (let v = both ? -Math.floor(top / speeds) * speeds : speeds; v < top; v += speeds) {
    if (Math.abs(v) < speeds / 2) continue;
    line(pen, [[0, y(v)], [width, y(v)]], false);
    pen.fillText(`${+Math.abs(v).toPrecision(3)}`, 4, y(v) - 3);
  }
  pen.strokeStyle = colour("--faint") || "#888";
  line(pen, [[0, zero], [width, zero]], false);
  pen.strokeStyle = colour("--warn") || "#850";
  pen.setLineDash([4, 4]);
  for (const moment of found.start_moments || []) line(pen, [[x(moment.t_s.value), 0], [x(moment.t_s.value), height - foot]], false);
  pen.setLineDash([]);
  pen.strokeStyle = colour("--ink");
  pen.lineWidth = 1.5;
  line(pen, track.map((p) => [x(p.t_s), y(p.v_m_s)]), false);
  pen.fillStyle = colour("--stop") || "#b00";
  pen.fillRect(x(view.time()) - 1, 0, 2, height - foot);
  const now = at(track, view.time());
  const words = `${now ? Math.abs(now.v).toFixed(3) : "–"} ${view.frame.dataset.speed}`;
  pen.font = "600 14px system-ui, sans-serif";
  const wide = pen.measureText(words).width;
  pen.fillStyle = colour("--sheet");
  pen.fillRect(width - wide - 14, 2, wide + 12, 20);
  pen.fillStyle = colour("--ink");
  pen.fillText(words, width - wide - 8, 17);
}

// something that is moved over the picture: by mouse, finger or arrow keys
function movable(view, element, get, set) {
  const bound = ([x, y]) => [Math.min(view.picture().width, Math.max(0, x)), Math.min(view.picture().height, Math.max(0, y))];
  let off = null;
  element.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    element.focus();
    const [x, y] = view.place(event);
    off = [get()[0] - x, get()[1] - y];
    element.setPointerCapture(event.pointerId);
  });
  element.addEventListener("pointermove", (event) => {
    if (!off) return;
    const [x, y] = view.place(event);
    set(bound([x + off[0], y + off[1]]));
  });
  for (const name of ["pointerup", "pointercancel"]) element.addEventListener(name, () => { off = null; });
  element.addEventListener("keydown", (event) => {
    const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!move) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1;
    const [x, y] = get();
    set(bound([x + far * move[0], y + far * move[1]]));
  });
}

function addHandles(view) {
  const words = view.frame.dataset.ends.split("|");
  view.handles = [0, 1].map((i) => {
    const handle = document.createElement("div");
    handle.className = "ruler-end";
    handle.tabIndex = 0;
    handle.setAttribute("role", "slider");
    handle.setAttribute("aria-label", words[i]);
    handle.setAttribute("aria-valuemin", "0");
    handle.setAttribute("aria-valuemax", view.picture().width.toFixed(0));
    view.over.parentElement.append(handle);
    movable(view, handle, () => view.ends.slice(2 * i, 2 * i + 2), ([x, y]) => {
      view.ends[2 * i] = x;
      view.ends[2 * i + 1] = y;
      view.write();
      paintPicture(view);
    });
    return handle;
  });
}

// a cross to aim with: tap the picture, or move it by the arrow keys and press Enter
function aimable(view, button, form, send) {
  const cross = document.createElement("div");
  cross.className = "aim";
  cross.tabIndex = 0;
  cross.setAttribute("role", "application");
  cross.setAttribute("aria-label", view.frame.dataset.aim);
  let spot = [0, 0];
  const put = (place) => {
    spot = place;
    cross.style.left = `${spot[0] * view.scale()}px`;
    cross.style.top = `${spot[1] * view.scale()}px`;
  };
  movable(view, cross, () => spot, put);
  const take = () => send(form, spot);
  cross.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); take(); }
    if (event.key === "Escape") button.click();
  });
  const layer = document.createElement("div");
  layer.className = "aim-layer";
  layer.append(cross);
  layer.addEventListener("click", (event) => { put(view.place(event)); take(); });
  button.hidden = false;
  button.addEventListener("click", () => {
    const on = !layer.isConnected;
    for (const other of view.holder.querySelectorAll(".aim-layer")) other.remove();
    for (const other of document.querySelectorAll("[data-tap]")) other.setAttribute("aria-pressed", "false");
    button.setAttribute("aria-pressed", String(on));
    if (!on) return;
    view.video.pause();
    view.holder.append(layer);
    view.frame.scrollIntoView({ block: "start" });
    put([view.picture().width / 2, view.picture().height / 2]);
    cross.focus({ preventScroll: true });
  });
}

// own buttons below the picture: the player's lie over it, just where the track and the ruler are
function player(view, seek) {
  const row = view.frame.querySelector("[data-player]");
  const { video } = view;
  const [play, slow] = [row.querySelector("[data-play]"), row.querySelector("[data-slow]")];
  const words = [play.textContent, play.dataset.pause];
  const name = () => { play.textContent = words[video.paused ? 0 : 1]; };
  row.hidden = false;
  video.controls = false;
  play.addEventListener("click", () => (video.paused ? video.play() : video.pause()));
  video.addEventListener("click", () => play.click());
  for (const event of ["play", "pause", "ended"]) video.addEventListener(event, name);
  slow.addEventListener("click", () => {
    const on = video.playbackRate === 1;
    video.playbackRate = on ? 0.25 : 1;
    slow.setAttribute("aria-pressed", String(on));
  });
  const times = view.track.map((p) => p.t_s);
  const frame = times.length > 1 ? (times[times.length - 1] - times[0]) / (times.length - 1) : 1 / 30;
  for (const button of row.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => seek(Math.max(0, view.time() + Number(button.dataset.step) * frame)));
  }
  return () => { for (const button of [play, slow]) button.hidden = true; };
}

function momentForm(view) {
  const form = document.querySelector("form[data-moment]");
  if (!form) return;
  const field = (name) => form.elements.namedItem(name);
  const mark = form.querySelector("[data-mark]");
  mark.hidden = false;
  mark.addEventListener("click", () => {
    field("moment_s").value = view.time().toFixed(3);
    field("live").value = view.video.paused ? "" : "1";
  });
  field("moment_s").addEventListener("input", () => { field("live").value = ""; });
  for (const button of document.querySelectorAll("[data-take]")) {
    button.addEventListener("click", () => {
      field("moment_s").value = button.dataset.take;
      field("live").value = "";
    });
  }
}

function start(frame, found) {
  const video = frame.querySelector("video");
  const over = frame.querySelector("[data-over]");
  const form = document.querySelector("form[data-ruler]");
  const view = {
    frame, found, video, over,
    holder: over.parentElement,
    curve: frame.querySelector("[data-curve]"),
    track: found.track || [],
    ends: found.ruler ? [...found.ruler.ends_px] : null,
    handles: [],
    still: null, // the moment of the frame that is shown where the clip cannot be played
  };
  const field = (name) => form && form.elements.namedItem(name);
  view.picture = () => found.picture || { width: video.videoWidth || 1, height: video.videoHeight || 1 };
  view.scale = () => over.clientWidth / view.picture().width;
  view.time = () => view.still ?? video.currentTime;
  view.duration = () => video.duration || found.duration_s || 1;
  view.place = (event) => {
    const box = over.getBoundingClientRect();
    return [(event.clientX - box.left) / view.scale(), (event.clientY - box.top) / view.scale()];
  };
  view.write = () => view.ends && NAMES.forEach((name, i) => { if (field(name)) field(name).value = view.ends[i].toFixed(1); });
  const paint = () => {
    paintPicture(view);
    if (view.curve) paintCurve(view);
  };
  const seek = (t) => {
    if (view.still !== null) { view.still = t; showStill(); paint(); }
    else { video.pause(); video.currentTime = t; }
  };
  const ready = () => {
    if (!view.ends) {
      const { width, height } = view.picture();
      view.ends = [0.3 * width, 0.7 * height, 0.7 * width, 0.7 * height];
    }
    if (form && !view.handles.length) addHandles(view);
    view.write();
    paint();
  };

  if (form) {
    form.addEventListener("input", () => {
      const typed = NAMES.map((name) => Number.parseFloat(field(name).value.replace(",", ".")));
      if (typed.every(Number.isFinite)) { view.ends = typed; paintPicture(view); }
    });
  }
  const sent = (names) => (where, spot) => {
    names(spot).forEach(([name, value]) => { where.elements.namedItem(name).value = value.toFixed(1); });
    where.submit();
  };
  const sends = {
    object: sent(([x, y]) => [["pick_x", x], ["pick_y", y]]),
    lamp: sent(([x, y]) => [["lamp_x", x], ["lamp_y", y], ["width", view.picture().width], ["height", view.picture().height]]),
  };
  for (const button of document.querySelectorAll("[data-tap]")) {
    aimable(view, button, button.closest("form"), sends[button.dataset.tap]);
  }
  momentForm(view);
  const stopPlayer = player(view, seek);
  for (const button of document.querySelectorAll("[data-seek]")) {
    button.addEventListener("click", () => { seek(Number.parseFloat(button.dataset.seek)); view.frame.scrollIntoView({ block: "start" }); });
  }
  if (view.curve) {
    const go = (event) => seek((event.offsetX / view.curve.clientWidth) * view.duration());
    view.curve.addEventListener("pointerdown", go);
    view.curve.addEventListener("pointermove", (event) => { if (event.buttons) go(event); });
  }

  const run = () => { paint(); if (!video.paused && !video.ended) requestAnimationFrame(run); };
  for (const name of ["play", "timeupdate", "seeked", "loadedmetadata"]) video.addEventListener(name, run);
  const shown = frame.querySelector("[data-shown]");
  const showStill = () => { shown.src = `${video.dataset.still}?t=${view.still.toFixed(2)}`; };
  shown.addEventListener("load", paint);
  // begin where the model stands at the ruler, so that its ends can be judged at once
  const begin = () => {
    if (!found.ruler || !view.track.length) return 0;
    const middle = (view.ends[0] + view.ends[2]) / 2;
    return view.track.reduce((a, b) => (Math.abs(b.x_px - middle) < Math.abs(a.x_px - middle) ? b : a)).t_s;
  };
  const unplayable = () => {
    frame.querySelector("[data-unplayable]").hidden = false;
    stopPlayer();
    view.still = begin();
    shown.hidden = false;
    video.hidden = true;
    showStill();
    ready();
  };
  video.addEventListener("error", unplayable);
  if (video.error) unplayable();
  if (video.readyState >= 1) { video.currentTime = begin(); ready(); }
  else video.addEventListener("loadedmetadata", () => { video.currentTime = begin(); ready(); }, { once: true });
  new ResizeObserver(paint).observe(frame);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", paint);
  paint();
}

for (const frame of document.querySelectorAll("[data-motion]")) {
  if (frame.dataset.track) {
    fetch(frame.dataset.track).then((answer) => answer.json()).then((found) => start(frame, found));
  } else start(frame, {});
}
