// The spectrogram's cursor follows the player; a touch on the picture or a run jumps there.

function join(section) {
  const sheet = section.querySelector("svg.spectrogram");
  const player = section.querySelector("audio, video");
  if (!sheet || !player) return;
  const cursor = sheet.querySelector(".cursor");
  const left = Number(sheet.dataset.left);
  const right = Number(sheet.dataset.right);
  const duration = Number(sheet.dataset.duration) || player.duration || 1;

  const place = () => {
    const x = left + Math.min(1, player.currentTime / duration) * (right - left);
    cursor.setAttribute("x1", x);
    cursor.setAttribute("x2", x);
    cursor.setAttribute("visibility", "visible");
    if (!player.paused) requestAnimationFrame(place);
  };
  const jump = (seconds, play) => {
    player.currentTime = Math.max(0, Math.min(duration, seconds));
    if (play) player.play();
    place();
  };

  for (const link of section.querySelectorAll("[data-seek]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      event.stopPropagation();
      jump(Number(link.dataset.seek), true);
    });
  }
  sheet.addEventListener("click", (event) => {
    const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(sheet.getScreenCTM().inverse());
    jump(((spot.x - left) / (right - left)) * duration, false);
  });
  player.addEventListener("play", place);
  player.addEventListener("seeked", place);
  place();
}

for (const section of document.querySelectorAll("[data-sound]")) join(section);
