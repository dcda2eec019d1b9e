// Shows, while a value is typed, what it means: the form's data-weigh address is asked with what was typed, and the
// fragment that comes back stands in data-weigh-out. Saving does not depend on it.
const pause = 250; // milliseconds

const watch = (form) => {
  const out = form.querySelector("[data-weigh-out]") ?? document.querySelector("[data-weigh-out]");
  if (!out) return;
  let timer;
  let request;

  const ask = async (typed) => {
    request?.abort();
    request = new AbortController();
    const url = new URL(form.dataset.weigh, location.href);
    if (url.origin !== location.origin) return;
    url.searchParams.set("typed", typed);
    try {
      const answer = await fetch(url, { signal: request.signal, redirect: "error", headers: { Accept: "text/html" } });
      if (answer.ok) out.innerHTML = await answer.text();
    } catch {
      // no signal, or overtaken by the next key: what stands there stays until the form is sent
    }
  };

  form.addEventListener("input", (event) => {
    clearTimeout(timer);
    const typed = new FormData(form).get(event.target.name);
    timer = setTimeout(ask, pause, typeof typed === "string" ? typed : "");
  });
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    request?.abort();
  });
};

document.querySelectorAll("form[data-weigh]").forEach(watch);
