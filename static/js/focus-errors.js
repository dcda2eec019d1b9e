// Puts the focus on the summary of what is wrong with a form, and takes its links to the field inside a closed fold.
const summary = document.querySelector("[data-focus-errors]");

if (summary) {
  summary.focus();
  summary.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    const field = link && document.getElementById(link.hash.slice(1));
    if (!field) return;
    event.preventDefault();
    field.closest("details")?.setAttribute("open", "");
    field.focus();
    field.scrollIntoView({ block: "center" });
  });
}
