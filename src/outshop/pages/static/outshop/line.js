// The drawing board: a key does what its button does while the focus is on the board.

document.addEventListener("keydown", (event) => {
  const pad = event.target.closest?.("#pad");
  if (!pad || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.matches("input, select, textarea")) return;
  const key = event.key === "Delete" ? "Backspace" : event.key;
  const button = pad.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (!button) return;
  event.preventDefault();
  button.click();
});
