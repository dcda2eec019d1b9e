// The key that changes between light and dark. Without scripts it stays hidden and the device decides.
const root = document.documentElement;

const dark = () =>
  root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;

const keep = (theme) => {
  try {
    localStorage.setItem("theme", theme);
  } catch {
    // storage is switched off: the choice holds for this page only
  }
};

for (const key of document.querySelectorAll("[data-theme-key]")) {
  const word = key.querySelector("[data-theme-word]");
  const show = () => {
    word.textContent = dark() ? "Light" : "Dark";
    key.setAttribute("aria-label", dark() ? "Use the light theme" : "Use the dark theme");
  };
  key.addEventListener("click", () => {
    root.dataset.theme = dark() ? "light" : "dark";
    keep(root.dataset.theme);
    show();
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
  show();
  key.hidden = false;
}
