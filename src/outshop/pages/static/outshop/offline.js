// The job card goes on without a connection: ticks and notes wait on the phone and are sent,
// oldest first, when Outshop answers again. Sending one twice does nothing twice: a tick says
// which state it wants, a note replaces the note before.

const box = document.getElementById("offline");
const KEY = "outshop-waiting";
const EVERY_MS = 4000;

const load = () => {
  try {
    return JSON.parse(localStorage.getItem(KEY)) ?? [];
  } catch {
    return [];
  }
};
const save = (waiting) => localStorage.setItem(KEY, JSON.stringify(waiting));

const tell = () => {
  const count = load().length;
  if (!box) return;
  box.hidden = !count;
  box.textContent = `${box.dataset.words} ${count}`;
};

const keep = (address, fields) => {
  const rest = load().filter((one) => one.address !== address);
  save([...rest, { address, fields }]);
  tell();
};

// A tick that cannot be sent is shown as done, and waits.
const hold = (event) => {
  const form = event.target.closest?.("form");
  const address = form?.getAttribute("hx-post");
  if (!address || !form.elements.done) return false;
  const done = form.elements.done.value;
  keep(address, { done });
  const button = form.querySelector(".tick");
  const ticked = done === "yes";
  button.setAttribute("aria-pressed", String(ticked));
  button.textContent = ticked ? "✓" : "";
  form.elements.done.value = ticked ? "no" : "yes";
  form.closest("li").classList.toggle("ticked", ticked);
  const said = document.getElementById("said");
  if (said) said.hidden = true;
  return true;
};
document.addEventListener("htmx:beforeRequest", (event) => {
  if (!navigator.onLine && hold(event)) event.preventDefault();
});
document.addEventListener("htmx:sendError", hold);

// A note without a photo is sent from here, so that a lost connection does not lose the page.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  const note = form.elements.note;
  if (!form.closest(".steps") || !note || form.elements.file?.files.length) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const address = form.getAttribute("action");
  const fields = { note: note.value };
  if (await send({ address, fields })) location.reload();
  else keep(address, fields);
}, true);

const token = () => JSON.parse(document.body.getAttribute("hx-headers"))["X-CSRFToken"];

const send = async ({ address, fields }) => {
  if (!navigator.onLine) return false;
  try {
    const answer = await fetch(address, {
      method: "POST",
      headers: { "X-CSRFToken": token() },
      body: new URLSearchParams(fields),
      credentials: "same-origin",
    });
    // Gone for good (the step was removed): waiting longer would not help.
    return answer.ok || answer.status === 404;
  } catch {
    return false;
  }
};

let busy = false;
const flush = async () => {
  if (busy || !load().length) return;
  busy = true;
  let sent = 0;
  for (const one of load()) {
    if (!(await send(one))) break;
    sent += 1;
    // Only what was sent goes: a newer tick of the same step stays.
    save(load().filter((left) => JSON.stringify(left) !== JSON.stringify(one)));
  }
  busy = false;
  tell();
  if (sent && !load().length) location.reload();
};

addEventListener("online", flush);
setInterval(flush, EVERY_MS);
tell();
flush();
