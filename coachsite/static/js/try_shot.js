// Try a shot: sliders beside the numbers, empty slots out of the way, complaints at their fields.
// htmx asks for the answer; without this script the page works by its button.

const form = document.getElementById("try");

// A slider has no name: the number is what counts, and the slider follows it.
for (const slider of form.querySelectorAll(".slider")) {
  const number = document.getElementById(slider.dataset.for);
  const follow = () => {
    const value = Number(number.value.replace(",", "."));
    if (number.value.trim() !== "" && !Number.isNaN(value)) slider.value = value;
    slider.setAttribute("aria-valuetext", `${slider.value} ${slider.dataset.unit}`);
  };
  slider.addEventListener("input", () => {
    number.value = slider.value;
    slider.setAttribute("aria-valuetext", `${slider.value} ${slider.dataset.unit}`);
  });
  number.addEventListener("input", follow);
  slider.hidden = false;
  follow();
}

// One slot more than are in use.
const slots = [...form.querySelectorAll("[data-slot]")];
function showSlots() {
  const used = slots.map((slot) => slot.querySelector("select").value !== "");
  const last = used.lastIndexOf(true);
  slots.forEach((slot, place) => {
    slot.hidden = place > last + 1;
    slot.querySelector("[data-of-ball]").hidden = !used[place];
  });
}
form.addEventListener("change", showSlots);
showSlots();

// Another client is another release and other balls: the whole page anew.
const client = form.elements.client;
const fill = document.getElementById("fill");
fill.hidden = true;
client.addEventListener("input", (event) => event.stopPropagation());
client.addEventListener("change", () => form.requestSubmit(fill));

// The address keeps to what was said: a fact of a ball that is left empty says nothing.
form.addEventListener("htmx:configRequest", ({ detail }) => {
  for (const [name, value] of [...detail.formData.entries()]) {
    if (value === "" && (/^b\d-(?!ball$)/.test(name) || ["client", "oil"].includes(name))) {
      detail.formData.delete(name);
    }
  }
});

function describe(field, error) {
  const ids = (field.getAttribute("aria-describedby") ?? "").split(" ").filter((id) => id && !id.endsWith("_error"));
  if (error) ids.push(error.id);
  if (ids.length) field.setAttribute("aria-describedby", ids.join(" "));
  else field.removeAttribute("aria-describedby");
}

function tell() {
  for (const old of form.querySelectorAll(".error")) old.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    describe(field, null);
  }
  for (const line of document.querySelectorAll("#wrong [data-field]")) {
    const field = document.getElementById(line.dataset.field);
    if (!field) continue;
    const error = document.createElement("p");
    error.className = "error";
    error.id = `${field.id}_error`;
    error.textContent = line.querySelector("span").textContent;
    field.closest(".field").append(error);
    field.setAttribute("aria-invalid", "true");
    describe(field, error);
    const fold = field.closest("details");
    if (fold) fold.open = true;
  }
}

// After a log-in that ran out the answer is another page: go there the plain way, with everything.
form.addEventListener("htmx:beforeRequest", () => form.setAttribute("aria-busy", "true"));
document.body.addEventListener("htmx:beforeSwap", ({ detail }) => {
  const from = detail.xhr.responseURL;
  if (!from || new URL(from).pathname === new URL(detail.pathInfo.requestPath, from).pathname) return;
  detail.shouldSwap = false;
  if (detail.elt === form) form.requestSubmit();
  else location.assign(detail.elt.href);
});
document.body.addEventListener("htmx:afterRequest", ({ detail }) => {
  if (detail.elt !== form) return;
  form.removeAttribute("aria-busy");
  if (detail.successful) tell();
});
document.body.addEventListener("htmx:sendError", () => {
  document.getElementById("in-short").textContent = "No network: what you see is the answer before.";
});
