// Dragging a run on the lanes: where it is dropped goes into the same form that
// the buttons send, so the desk shows what it does before it holds.
"use strict";

(() => {
  const lanes = document.querySelector("[data-lanes] .spots");
  const form = document.getElementById("drag");
  if (!lanes || !form) return;
  const spots = [...lanes.querySelectorAll("[data-line]")];
  const bands = [...lanes.querySelectorAll(".band")];
  const place = (e) => {
    const m = lanes.getScreenCTM().inverse();
    return new DOMPoint(e.clientX, e.clientY).matrixTransform(m);
  };
  const value = (spot, name) => Number(spot.getAttribute(name));
  let held, from, moved;

  // The machine it is dropped on, and what it would go in front of there: the
  // first run whose middle lies to the right. Beside all lanes it is let go.
  const target = (at) => {
    const band = bands.find((b) => at.y >= value(b, "y") && at.y < value(b, "y") + value(b, "height"));
    if (!band) return null;
    const machine = band.dataset.machine;
    const next = spots.filter((s) => s !== held && s.dataset.machine === machine && !s.dataset.near && value(s, "x") + value(s, "width") / 2 > at.x)
      .sort((a, b) => value(a, "x") - value(b, "x"))[0];
    return { machine, before: next ? next.dataset.line : "0" };
  };
  const letGo = (spot) => { spot.removeAttribute("transform"); spot.classList.remove("held"); held = null; };

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
      if (!to) { letGo(spot); return; }
      form.elements.line.value = spot.dataset.line;
      form.elements.before.value = to.before;
      form.elements.machine.value = to.machine;
      form.requestSubmit();
    });
    spot.addEventListener("pointercancel", () => letGo(spot));
  }
  addEventListener("pageshow", () => { for (const s of spots) letGo(s); });
})();
