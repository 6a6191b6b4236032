// Short tones without a file. A browser allows sound only after a touch, so call `wake` in one.

let context;

export function wake() {
  context ??= new AudioContext();
  if (context.state === "suspended") context.resume();
}

export function tone(frequency = 880, seconds = 0.35, times = 1) {
  if (!context) return;
  for (let i = 0; i < times; i += 1) {
    const start = context.currentTime + i * (seconds + 0.15);
    const oscillator = context.createOscillator();
    const gain = context.createGain();
    oscillator.frequency.value = frequency;
    gain.gain.setValueAtTime(0, start);
    gain.gain.linearRampToValueAtTime(0.25, start + 0.02);
    gain.gain.linearRampToValueAtTime(0, start + seconds);
    oscillator.connect(gain).connect(context.destination);
    oscillator.start(start);
    oscillator.stop(start + seconds);
  }
}

export function clock(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  return `${String(Math.floor(whole / 60)).padStart(2, "0")}:${String(whole % 60).padStart(2, "0")}`;
}
