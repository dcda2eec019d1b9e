// Adds a key that copies what stands in a field, where the browser lets pages do so.
for (const box of document.querySelectorAll("[data-copy]")) {
  const field = box.querySelector("input");
  if (!field || !navigator.clipboard) continue;
  const key = document.createElement("button");
  key.type = "button";
  key.className = "button secondary";
  key.textContent = "Copy";
  key.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(field.value);
      key.textContent = "Copied";
    } catch {
      field.select(); // not allowed: at least it is marked
    }
  });
  field.addEventListener("focus", () => field.select());
  box.append(key);
}
