"use strict";
// Plus and minus count on the page: a tap does not wait for the server. From nothing the count begins at what is asked.
document.querySelector("form.bunch").addEventListener("click", (event) => {
  const key = event.target.closest("button[name=step]");
  if (!key) return;
  event.preventDefault();
  const [what, name] = key.value.split(":");
  const field = key.form.elements[name];
  const count = Number(field.value.replace(",", "."));
  if (Number.isNaN(count)) return field.focus();
  field.value = field.value.trim() === "" ? field.dataset.start : Math.max(0, Math.round((count + (what === "more" ? 1 : -1)) * 1000) / 1000);
});
