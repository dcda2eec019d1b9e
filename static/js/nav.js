// Closes the menu of the phone's bar with Escape, or by a tap beside it.
for (const menu of document.querySelectorAll("[data-nav-more]")) {
  document.addEventListener("click", (event) => {
    if (!menu.contains(event.target)) menu.open = false;
  });
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
}
