// Small helps on top of pages that work without it: focus goes to what is wrong,
// a form is sent once, and a form marked data-live shows a part of its page
// afresh while one types.
"use strict";

(() => {
  const problems = document.querySelector(".problems");
  if (problems) problems.focus();

  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (form.dataset.sent) return e.preventDefault();
    form.dataset.sent = "yes";
    setTimeout(() => delete form.dataset.sent, 5000);
  });
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });

  for (const menu of document.querySelectorAll("details.menu")) {
    document.addEventListener("click", (e) => { if (!menu.contains(e.target)) menu.open = false; });
    menu.addEventListener("keydown", (e) => {
      if (e.key === "Escape") { menu.open = false; menu.querySelector("summary").focus(); }
    });
  }

  // <form data-live="/counter/price part-slip slip">: 200 ms after the last key
  // the form is sent there, and the answer, the page's template "part-slip",
  // takes the place of what is in the element "slip".
  for (const form of document.querySelectorAll("form[data-live]")) {
    const [address, part, id] = form.dataset.live.split(" ");
    const place = document.getElementById(id);
    let timer, running;
    const ask = async () => {
      if (running) running.abort();
      running = new AbortController();
      const slow = setTimeout(() => place.setAttribute("aria-busy", "true"), 300);
      try {
        const answer = await fetch(address, {
          method: "POST", headers: { "X-Part": part }, signal: running.signal,
          body: new URLSearchParams(new FormData(form)),
        });
        if (answer.ok || answer.status === 422) place.innerHTML = await answer.text();
      } catch (e) {
        if (e.name !== "AbortError") place.dataset.stale = "yes"; // offline: the old figures are marked
      } finally {
        clearTimeout(slow);
        place.removeAttribute("aria-busy");
      }
    };
    form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 200); });
  }
})();
