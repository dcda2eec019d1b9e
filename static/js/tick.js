// Ticks a line of a list off without loading the page anew: the form is sent, and the list of the answer takes the place
// of the one that stands there. Where that fails, the form is sent as if there were no script.
document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-tick]");
  const list = form?.closest("[data-ticks]");
  if (!list || event.defaultPrevented) return;
  event.preventDefault();
  if (list.dataset.sending) return;
  list.dataset.sending = "yes";
  try {
    const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)), headers: { Accept: "text/html" } });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("[data-ticks]");
    if (!answer.ok || !fresh) throw new Error("no list in the answer");
    const line = form.closest("[id]").id;
    list.replaceWith(fresh);
    document.getElementById(line)?.querySelector("button")?.focus({ preventScroll: true });
  } catch {
    form.submit();
  }
});
