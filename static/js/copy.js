// Adds a key that copies what stands in a field or is shown, where the browser lets pages do so.
for (const box of document.querySelectorAll("[data-copy]")) {
  const field = box.querySelector("input, code");
  const mark = () => (field.select ? field.select() : getSelection().selectAllChildren(field));
  if (!field || !navigator.clipboard) continue;
  const key = document.createElement("button");
  key.type = "button";
  key.className = "button secondary";
  key.textContent = "Copy";
  key.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(field.value ?? field.textContent);
      key.textContent = "Copied";
    } catch {
      mark(); // not allowed: at least it is marked
    }
  });
  field.addEventListener("focus", mark);
  box.append(key);
}
