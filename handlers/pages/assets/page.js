"use strict";
// What is wrong is read out first, and a form goes out once however often its button is pressed.
document.querySelector(".problems")?.focus();
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
});
window.addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});
