// What every page needs: the side index, one submit per form, progress of an upload, plain errors.

const words = document.body.dataset;

// Side index: say which section is on the screen.
const links = [...document.querySelectorAll(".index a[href^='#']")];
const sections = links.map((link) => document.getElementById(link.hash.slice(1))).filter(Boolean);
if (sections.length) {
  const mark = () => {
    const line = innerHeight * 0.3;
    const passed = sections.filter((section) => section.getBoundingClientRect().top <= line);
    const end = scrollY + innerHeight >= document.documentElement.scrollHeight - 2;
    const here = end && scrollY > 0 ? sections.at(-1) : passed.at(-1) ?? sections[0];
    for (const link of links) {
      if (link.hash.slice(1) === here.id) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    }
  };
  addEventListener("scroll", mark, { passive: true });
  mark();
}

// A form is sent once; the server knows the form's token as well.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  if (form.method === "post" && !form.hasAttribute("hx-post")) form.dataset.sent = "yes";
});
addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});

// Choosing something in these forms is enough to send them.
document.addEventListener("change", (event) => {
  const form = event.target.form;
  if (form?.hasAttribute("data-send-on-change")) form.requestSubmit();
});

// Drop a file anywhere on the frame around a file input.
const over = (on) => (event) => {
  const frame = event.target.closest?.(".drop");
  if (!frame?.querySelector("input[type=file]")) return;
  event.preventDefault();
  frame.classList.toggle("over", on);
  if (event.type !== "drop" || !event.dataTransfer.files.length) return;
  const input = frame.querySelector("input[type=file]");
  input.files = event.dataTransfer.files;
  input.dispatchEvent(new Event("change", { bubbles: true }));
};
document.addEventListener("dragover", over(true));
document.addEventListener("dragleave", over(false));
document.addEventListener("drop", over(false));

// A file that is too large is not even sent.
document.addEventListener("change", (event) => {
  const input = event.target;
  if (!input.dataset?.largest) return;
  const large = [...input.files].some((file) => file.size > Number(input.dataset.largest));
  const said = input.parentElement.querySelector("[data-too-large]");
  if (said) said.hidden = !large;
  if (large) input.value = "";
});

// What is swapped in begins anew; the focus stays at what was pressed.
const nameOf = (element) => {
  if (element.id) return `#${CSS.escape(element.id)}`;
  const href = element.getAttribute("href");
  if (href) return `[href="${CSS.escape(href)}"]`;
  const kind = (element.getAttribute("class") ?? "").split(" ")[0];
  return element.localName + (kind ? `.${CSS.escape(kind)}` : "");
};
let pressed = "";
document.addEventListener("htmx:beforeRequest", (event) => {
  const row = (event.detail.target ?? event.target).closest("[id]");
  const active = document.activeElement;
  pressed = row?.contains(active) && row !== active ? `#${row.id} ${nameOf(active)}` : "";
});
document.addEventListener("htmx:afterSettle", () => {
  if (!pressed || (document.activeElement && document.activeElement !== document.body)) return;
  document.querySelector(pressed)?.focus({ preventScroll: true });
  pressed = "";
});

// A link inside a drawing fetches its part of the page; without htmx it is a plain link.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("svg a");
  const into = link?.closest("[data-into]")?.dataset.into;
  if (!into || !window.htmx || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  window.htmx.ajax("GET", link.getAttribute("href"), { target: into, swap: "innerHTML" });
});

// How much of an upload has gone.
document.addEventListener("htmx:xhr:progress", (event) => {
  const bar = event.target.querySelector?.("progress.upload");
  if (!bar || !event.detail.lengthComputable) return;
  bar.hidden = false;
  bar.max = event.detail.total;
  bar.value = event.detail.loaded;
});

// An answer that is no page part becomes one sentence at the top.
const say = (sentence) => {
  const box = document.getElementById("said");
  if (!box) return;
  box.textContent = sentence;
  box.hidden = false;
  box.scrollIntoView({ block: "nearest" });
};
document.addEventListener("htmx:sendError", () => say(words.unreachable));
document.addEventListener("htmx:responseError", (event) => {
  const { status, responseText } = event.detail.xhr;
  if (status === 400) return; // swapped in where it belongs
  const answer = new DOMParser().parseFromString(responseText, "text/html");
  say(answer.querySelector("[data-sentence]")?.textContent.trim() || words.unreachable);
});
