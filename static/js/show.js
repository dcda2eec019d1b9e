// Adds a key beside a password that shows what was typed. It is hidden again before the form is sent.
const hide = (field, key) => {
  field.type = "password";
  key.textContent = "Show";
  key.setAttribute("aria-label", "Show the password");
};

for (const field of document.querySelectorAll("input[type=password]")) {
  const key = document.createElement("button");
  key.type = "button";
  key.className = "show-key";
  hide(field, key);
  key.addEventListener("click", () => {
    if (field.type === "password") {
      field.type = "text";
      key.textContent = "Hide";
      key.setAttribute("aria-label", "Hide the password");
    } else {
      hide(field, key);
    }
    field.focus();
  });
  field.form?.addEventListener("submit", () => hide(field, key));
  field.after(key);
}
