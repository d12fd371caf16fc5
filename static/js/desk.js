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
    const button = e.submitter;
    if (button) setTimeout(() => e.defaultPrevented || button.setAttribute("aria-busy", "true"), 300); // it takes long: say so
  });
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
    for (const button of document.querySelectorAll("button[aria-busy]")) button.removeAttribute("aria-busy");
  });

  for (const menu of document.querySelectorAll("details.menu")) {
    document.addEventListener("click", (e) => { if (!menu.contains(e.target)) menu.open = false; });
    menu.addEventListener("keydown", (e) => {
      if (e.key === "Escape") { menu.open = false; menu.querySelector("summary").focus(); }
    });
  }

  // A slider beside a field that works without it: each moves the other.
  for (const slide of document.querySelectorAll("input[type=range][data-for]")) {
    const field = document.getElementById(slide.dataset.for);
    slide.hidden = false;
    slide.value = parseFloat(field.value) || 0;
    slide.addEventListener("input", () => { field.value = slide.value; });
    field.addEventListener("input", () => { slide.value = parseFloat(field.value) || 0; });
  }

  // <form data-live="/counter/price part-live">: 200 ms after the last key the
  // form is sent there, and each element of the answer, the page's template
  // "part-live", takes the place of the one with its id. What has the same
  // data-key stays as it is, and so does what the person is in; a third word
  // names the one element that the whole answer is put into instead.
  const put = (place, fresh) => {
    const key = fresh.dataset.key;
    if (key !== undefined && key === place.dataset.key) return;
    const at = place.contains(document.activeElement) ? document.activeElement.id : "";
    for (const d of place.querySelectorAll("details[id][open]")) {
      const twin = fresh.querySelector("#" + d.id);
      if (twin) twin.open = true;
    }
    place.replaceWith(fresh);
    if (at) document.getElementById(at)?.focus({ preventScroll: true });
  };
  const swap = (html) => {
    const box = document.createElement("template");
    box.innerHTML = html;
    for (const fresh of [...box.content.children]) {
      const place = document.getElementById(fresh.id);
      if (place) put(place, fresh);
    }
  };
  for (const form of document.querySelectorAll("form[data-live]")) {
    const [address, part, id = "slip"] = form.dataset.live.split(" ");
    const whole = form.dataset.live.split(" ").length > 2;
    let timer, running;
    const ask = async () => {
      if (running) running.abort();
      const mine = running = new AbortController();
      const slow = setTimeout(() => document.getElementById(id)?.setAttribute("aria-busy", "true"), 300);
      try {
        const answer = await fetch(address, {
          method: "POST", headers: { "X-Part": part }, signal: mine.signal,
          body: new URLSearchParams(new FormData(form)),
        });
        const text = answer.ok || answer.status === 422 ? await answer.text() : "";
        if (text && whole) document.getElementById(id).innerHTML = text;
        else if (text && mine === running) swap(text);
      } catch (e) {
        if (e.name !== "AbortError") document.getElementById(id).dataset.stale = "yes"; // offline: the old figures are marked
      } finally {
        clearTimeout(slow);
        document.getElementById(id)?.removeAttribute("aria-busy");
      }
    };
    form.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(ask, 200); });
    form.addEventListener("keydown", (e) => {
      if (e.key === "Enter" && (e.ctrlKey || e.metaKey)) { e.preventDefault(); clearTimeout(timer); ask(); }
    });
  }
})();
