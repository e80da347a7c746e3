// Buttons that copy a link or print the page; without this script the link can still be selected.

const said = document.querySelector("[data-copied]");

for (const button of document.querySelectorAll("[data-copy]")) {
  const field = document.getElementById(button.dataset.copy);
  button.hidden = false;
  button.addEventListener("click", async () => {
    field.select();
    try {
      // Over plain http on a local network a browser has no clipboard for scripts.
      await navigator.clipboard.writeText(field.value);
      said.textContent = "Copied.";
    } catch {
      said.textContent = "Selected; copy it with your browser's menu.";
    }
  });
}

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
