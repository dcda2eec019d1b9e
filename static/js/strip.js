// Keeps the status strip true while a page is open, and keeps a form from being sent into nothing: without a network the
// browser would replace the page, and what was typed with it. That the network is there says little; that it is not is sure.
const strip = document.querySelector("[data-strip]");
const text = strip?.querySelector("[data-strip-text]");
const connected = text?.textContent;

const tell = () => {
  if (!text) return;
  strip.dataset.strip = navigator.onLine ? "" : "lost";
  text.textContent = navigator.onLine ? connected : "No signal: nothing is sent. What you typed stays here.";
};

addEventListener("online", tell);
addEventListener("offline", tell);
addEventListener("pageshow", tell);
// In the capturing phase, so that no other script marks the form as sent.
addEventListener("submit", (event) => {
  if (navigator.onLine) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  tell();
  strip?.scrollIntoView({ block: "start" });
}, true);
