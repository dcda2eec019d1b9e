// Adds a key for the sign beside a field that may be negative: the number pads of phones have none.
const flip = (text) => {
  const typed = text.trim();
  return /^[-−–]/.test(typed) ? typed.slice(1).trim() : "-" + typed;
};

for (const field of document.querySelectorAll("input[data-sign]")) {
  if (field.readOnly) continue;
  const key = document.createElement("button");
  key.type = "button";
  key.className = "sign-key";
  key.textContent = "±";
  key.setAttribute("aria-label", "Change the sign");
  key.addEventListener("click", () => {
    field.value = flip(field.value);
    field.focus();
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  field.before(key);
}
