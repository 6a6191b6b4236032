// A player that draws the recording: peaks made by the server, its runs, and a cursor.

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

async function draw(frame) {
  const canvas = frame.querySelector("canvas");
  const audio = frame.querySelector("audio, video");
  const answer = await fetch(frame.dataset.peaks);
  if (!answer.ok) {
    canvas.hidden = true;
    return;
  }
  const { peaks, duration_s: measured, runs } = await answer.json();
  const duration = measured || audio.duration || 1;
  const pen = canvas.getContext("2d");

  const paint = () => {
    const sharp = window.devicePixelRatio || 1;
    const { clientWidth: width, clientHeight: height } = canvas;
    canvas.width = width * sharp;
    canvas.height = height * sharp;
    pen.scale(sharp, sharp);
    pen.fillStyle = colour("--wash");
    for (const run of runs.filter((one) => one.state === "running")) {
      const left = (run.start_s / duration) * width;
      pen.fillRect(left, 0, (run.end_s / duration) * width - left, height);
    }
    pen.strokeStyle = colour("--ink");
    pen.lineWidth = 1;
    pen.beginPath();
    for (let x = 0; x < width; x += 1) {
      const peak = peaks[Math.floor((x / width) * peaks.length)] ?? 0;
      const half = Math.max(0.5, (peak * (height - 6)) / 2);
      pen.moveTo(x + 0.5, height / 2 - half);
      pen.lineTo(x + 0.5, height / 2 + half);
    }
    pen.stroke();
    const at = (audio.currentTime / duration) * width;
    pen.fillStyle = colour("--stop");
    pen.fillRect(at, 0, 2, height);
  };

  canvas.addEventListener("click", (event) => {
    audio.currentTime = (event.offsetX / canvas.clientWidth) * duration;
    paint();
  });
  for (const button of frame.querySelectorAll("[data-seek]")) {
    button.addEventListener("click", () => {
      audio.currentTime = Number(button.dataset.seek);
      audio.play();
    });
  }
  audio.addEventListener("timeupdate", paint);
  audio.addEventListener("seeked", paint);
  new ResizeObserver(paint).observe(canvas);
  paint();
}

for (const frame of document.querySelectorAll("[data-wave]")) draw(frame);
