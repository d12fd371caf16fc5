// At the machine: a tap counts at once and the page stays where it is. Each tap
// is the form itself with its own key, so the desk counts it one time; while one
// is on its way, or within a third of a second, another isn't taken.
"use strict";

(() => {
  let busy = false, last = 0;
  document.addEventListener("submit", async (e) => {
    const form = e.target;
    if (!form.matches("[data-tap]")) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    if (busy || e.timeStamp - last < 300) return;
    busy = true; last = e.timeStamp;
    const floor = document.getElementById("floor");
    const at = e.submitter.getAttribute("aria-label");
    floor.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form, e.submitter)) });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById("floor");
      if (!fresh) { location.reload(); return; }
      const said = page.querySelector(".problems");
      document.querySelector(".problems")?.remove();
      if (said) floor.before(said);
      floor.replaceWith(fresh);
      [...fresh.querySelectorAll("button.tap")].find((b) => b.getAttribute("aria-label") === at)?.focus({ preventScroll: true });
      said?.focus();
    } catch {
      floor.removeAttribute("aria-busy"); // no signal: the same tap can be sent again with the same key
    } finally {
      busy = false;
    }
  }, true);
})();
