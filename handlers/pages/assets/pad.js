"use strict";
// The count pad counts at once and sends along: a tap does not wait for the page. What cannot be sent stays on the pad, and is told.
{
  const pad = document.querySelector("form.pad");
  const state = pad.querySelector(".state");
  let timer, sending = false, dirty = false;

  const newID = () => {
    const b = crypto.getRandomValues(new Uint8Array(16));
    b[6] = (b[6] & 15) | 64;
    b[8] = (b[8] & 63) | 128;
    const hex = Array.from(b, (n) => n.toString(16).padStart(2, "0")).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})/, "$1-$2-$3-$4-");
  };

  const changed = () => {
    dirty = true;
    state.textContent = state.dataset.open;
    clearTimeout(timer);
    timer = setTimeout(send, 700);
  };

  // What was sent is what is kept: the next change counts from there. An answer that was lost is asked for again under the same identifier, with the same counts.
  let waiting;
  const send = async () => {
    if (sending) return;
    sending = true;
    dirty = false;
    waiting ??= new URLSearchParams(new FormData(pad));
    try {
      const answer = await fetch(pad.action, { method: "POST", body: waiting, redirect: "manual", keepalive: true });
      if (answer.type !== "opaqueredirect") {
        pad.submit();
        return;
      }
      for (const [name, value] of waiting) {
        if (name.startsWith("n.")) pad.elements["was." + name.slice(2)].value = value;
      }
      waiting = undefined;
      pad.elements.id.value = newID();
      state.textContent = state.dataset.kept;
      if ([...new FormData(pad)].some(([name, value]) => name.startsWith("n.") && value !== pad.elements["was." + name.slice(2)].value)) changed();
    } catch {
      state.textContent = state.dataset.lost;
      timer = setTimeout(send, 10000);
    } finally {
      sending = false;
    }
  };

  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button[name=step]");
    if (!key) return;
    event.preventDefault();
    const [what, worker] = key.value.split(":");
    const field = pad.elements["n." + worker];
    const count = Number(field.value);
    if (Number.isNaN(count)) return field.focus();
    field.value = Math.max(0, count + (what === "more" ? 1 : -1));
    changed();
  });
  pad.addEventListener("change", (event) => {
    if (event.target.name.startsWith("n.")) changed();
  });
  pad.addEventListener("submit", () => { dirty = false; });
  window.addEventListener("pagehide", () => {
    if (dirty) send();
  });
}
