// Applies the theme that was chosen on this device, before the page is painted.
const chosen = () => {
  try {
    return localStorage.getItem("theme");
  } catch {
    return null; // storage is switched off: the device's own theme stands
  }
};

const theme = chosen();
if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
