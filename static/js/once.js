// Keeps a form from being sent twice by a double tap. The buttons come back when the page is shown again.
const release = (form) => {
  delete form.dataset.sent;
  for (const b of form.querySelectorAll("button[aria-disabled]")) b.removeAttribute("aria-disabled");
};

for (const form of document.querySelectorAll("form[data-once]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    // Not `disabled`: the pressed button's own name and value must still be sent.
    for (const b of form.querySelectorAll("button:not([type=button])")) b.setAttribute("aria-disabled", "true");
    setTimeout(() => release(form), 10_000); // no answer came: let them try again
  });
}

addEventListener("pageshow", () => document.querySelectorAll("form[data-once]").forEach(release));
