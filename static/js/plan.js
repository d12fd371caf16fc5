// Dragging a run on the lanes: where it is dropped goes into the same form that
// the buttons send, so the desk shows what it does before it holds.
"use strict";

(() => {
  const lanes = document.querySelector("[data-lanes] .spots");
  const form = document.getElementById("drag");
  if (!lanes || !form) return;
  const spots = [...lanes.querySelectorAll("rect")];
  const place = (e) => {
    const m = lanes.getScreenCTM().inverse();
    return new DOMPoint(e.clientX, e.clientY).matrixTransform(m);
  };
  const value = (spot, name) => Number(spot.getAttribute(name));
  let held, from, moved;

  // What it would go in front of: the first run of that lane whose middle lies
  // right of where it is dropped.
  const target = (at) => {
    const lane = spots.filter((s) => Math.abs(value(s, "y") + value(s, "height") / 2 - at.y) < 42);
    const machine = (lane[0] || held).dataset.machine;
    const next = lane.filter((s) => s !== held && !s.dataset.near && value(s, "x") + value(s, "width") / 2 > at.x)
      .sort((a, b) => value(a, "x") - value(b, "x"))[0];
    return { machine, before: next ? next.dataset.line : "0" };
  };

  for (const spot of spots) {
    spot.addEventListener("pointerdown", (e) => {
      if (e.button) return;
      held = spot; from = place(e); moved = false;
      if (!spot.dataset.near) spot.setPointerCapture(e.pointerId);
    });
    spot.addEventListener("pointermove", (e) => {
      if (held !== spot || spot.dataset.near) return;
      const at = place(e);
      moved = moved || Math.hypot(at.x - from.x, at.y - from.y) > 8;
      if (moved) spot.setAttribute("transform", `translate(${at.x - from.x} ${at.y - from.y})`);
      spot.classList.toggle("held", moved);
    });
    spot.addEventListener("pointerup", (e) => {
      if (held !== spot) return;
      const run = document.getElementById("run-" + spot.dataset.line);
      if (!moved) { run?.scrollIntoView({ block: "center" }); run?.querySelector("summary, a")?.focus({ preventScroll: true }); held = null; return; }
      const to = target(place(e));
      form.elements.line.value = spot.dataset.line;
      form.elements.before.value = to.before;
      form.elements.machine.value = to.machine;
      form.requestSubmit();
    });
    spot.addEventListener("pointercancel", () => { spot.removeAttribute("transform"); spot.classList.remove("held"); held = null; });
  }
  addEventListener("pageshow", () => { for (const s of spots) { s.removeAttribute("transform"); s.classList.remove("held"); } });
})();
