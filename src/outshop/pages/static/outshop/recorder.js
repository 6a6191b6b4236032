// Take a recording with the phone or laptop itself and hand it to the form's file input.
// The microphone's own "improvements" are switched off: they would change what is measured.

const RAW = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
const KINDS = [
  ["audio/mp4", "m4a"],
  ["audio/webm;codecs=opus", "webm"],
  ["audio/ogg;codecs=opus", "ogg"],
];

export class Recorder {
  constructor(frame) {
    this.frame = frame;
    this.input = frame.closest("form").querySelector("input[type=file]");
    this.button = frame.querySelector("[data-record]");
    this.meter = frame.querySelector("[data-level]");
    this.player = frame.querySelector("audio");
    this.said = frame.querySelector("[data-said]");
    this.button.addEventListener("click", () => (this.running ? this.stop() : this.start()));
  }

  get running() {
    return this.machine?.state === "recording";
  }

  async start() {
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ audio: RAW });
    } catch (problem) {
      const none = problem.name === "NotFoundError";
      this.say(none ? this.frame.dataset.none : this.frame.dataset.refused);
      return false;
    }
    const [type, ending] = KINDS.find(([kind]) => MediaRecorder.isTypeSupported(kind)) ?? ["", "webm"];
    this.machine = new MediaRecorder(this.stream, { mimeType: type, audioBitsPerSecond: 256000 });
    const pieces = [];
    this.machine.addEventListener("dataavailable", (event) => pieces.push(event.data));
    this.machine.addEventListener("stop", () => this.keep(new Blob(pieces, { type }), ending));
    this.machine.start(1000);
    this.button.textContent = this.frame.dataset.stop;
    this.button.classList.add("record");
    this.say(this.frame.dataset.recording);
    this.watch();
    return true;
  }

  stop() {
    if (!this.running) return;
    this.machine.stop();
    for (const track of this.stream.getTracks()) track.stop();
    this.button.textContent = this.frame.dataset.again;
    this.button.classList.remove("record");
  }

  keep(blob, ending) {
    const stamp = new Date().toISOString().slice(0, 19).replaceAll(":", "-");
    const box = new DataTransfer();
    box.items.add(new File([blob], `bench-${stamp}.${ending}`, { type: blob.type }));
    this.input.files = box.files;
    this.input.dispatchEvent(new Event("change", { bubbles: true }));
    if (this.player.src) URL.revokeObjectURL(this.player.src);
    this.player.src = URL.createObjectURL(blob);
    this.player.hidden = false;
    this.meter.hidden = true;
    this.say(this.frame.dataset.taken);
  }

  watch() {
    const context = new AudioContext();
    const analyser = context.createAnalyser();
    context.createMediaStreamSource(this.stream).connect(analyser);
    const samples = new Float32Array(analyser.fftSize);
    this.meter.hidden = false;
    const look = () => {
      if (!this.running) {
        context.close();
        return;
      }
      analyser.getFloatTimeDomainData(samples);
      const peak = samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
      this.meter.value = Math.max(0, 1 + Math.log10(Math.max(peak, 1e-3)) / 3);
      if (peak > 0.98) this.say(this.frame.dataset.loud);
      requestAnimationFrame(look);
    };
    look();
  }

  say(sentence) {
    this.said.textContent = sentence;
  }
}

export function recorders() {
  return [...document.querySelectorAll("[data-recorder]")].map((frame) => {
    if (!navigator.mediaDevices?.getUserMedia || !window.MediaRecorder) {
      const button = frame.querySelector("[data-record]");
      button.hidden = true;
      frame.querySelector("[data-said]").textContent = frame.dataset.unable;
      return null;
    }
    return new Recorder(frame);
  });
}
