// A signature drawn with finger, pen or mouse on the canvas of [data-sign]. It
// goes with the form as a small PNG. Without script the printed name stands.
"use strict";

(() => {
  for (const box of document.querySelectorAll("[data-sign]")) {
    const canvas = box.querySelector("canvas"), field = box.querySelector("input");
    const pen = canvas.getContext("2d");
    box.hidden = false;
    let last = null;

    const clear = () => {
      pen.fillStyle = "#ffffff";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.strokeStyle = "#15181c";
      pen.lineWidth = 4;
      pen.lineCap = pen.lineJoin = "round";
      field.value = "";
    };
    const at = (e) => {
      const r = canvas.getBoundingClientRect();
      return [(e.clientX - r.left) * canvas.width / r.width, (e.clientY - r.top) * canvas.height / r.height];
    };
    const line = (to) => {
      pen.beginPath();
      pen.moveTo(...last);
      pen.lineTo(...to);
      pen.stroke();
      last = to;
    };
    canvas.addEventListener("pointerdown", (e) => {
      e.preventDefault();
      canvas.setPointerCapture(e.pointerId);
      last = at(e);
      line(last);
    });
    canvas.addEventListener("pointermove", (e) => { if (last) line(at(e)); });
    for (const end of ["pointerup", "pointercancel"]) {
      canvas.addEventListener(end, () => {
        if (last) field.value = canvas.toDataURL("image/png");
        last = null;
      });
    }
    box.querySelector("[data-clear]").addEventListener("click", clear);
    clear();
  }
})();
