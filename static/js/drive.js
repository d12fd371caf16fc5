// The driver's pages without signal. A stop that is handed over goes into a queue
// in the phone first, under a key of its own, and from there to the desk until
// the desk says that it has it. The key makes it count once however often it is
// sent. Signing out wipes the queue with everything else (Clear-Site-Data).
"use strict";

(() => {
  const root = document.querySelector("[data-drive]");
  if (!root || !window.indexedDB) return;
  const person = root.dataset.person;
  const again = 10000; // ms between tries

  // The queue: one record for each stop, {key, stop, person, body, photos, sent, refused}.
  const open = () => new Promise((done, fail) => {
    const r = indexedDB.open("drive", 1);
    r.onupgradeneeded = () => r.result.createObjectStore("queue", { keyPath: "key" });
    r.onsuccess = () => done(r.result);
    r.onerror = () => fail(r.error);
  });
  const queue = async (mode, use) => {
    const db = await open();
    try {
      return await new Promise((done, fail) => {
        const tx = db.transaction("queue", mode, { durability: "strict" });
        const asked = use(tx.objectStore("queue"));
        tx.oncomplete = () => done(asked.result);
        tx.onerror = tx.onabort = () => fail(tx.error);
      });
    } finally {
      db.close();
    }
  };
  const waiting = () => queue("readonly", (s) => s.getAll());
  const put = (item) => queue("readwrite", (s) => s.put(item));
  const forget = (key) => queue("readwrite", (s) => s.delete(key));
  const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

  // Sending
  class Later extends Error {} // no answer, or not now: it stays queued
  const ask = async (path, options) => {
    const headers = { Accept: "application/json", ...options.headers };
    const answer = await fetch(path, { ...options, headers }).catch(() => { throw new Later("no signal"); });
    const said = await answer.json().catch(() => ({}));
    if (answer.ok) return said;
    if (answer.status === 401 || answer.status === 403) throw new Later("sign in again to send");
    if (answer.status === 429 || answer.status >= 500) throw new Later("the desk is busy");
    throw new Error((said.errors && said.errors[0] && said.errors[0].detail) || said.detail || "refused");
  };

  const sendOne = async (item, token) => {
    const guard = { "X-Form-Token": token };
    if (!item.sent) {
      await ask("/drive/sync", { method: "POST", body: item.body, headers: { ...guard, "Content-Type": "application/json" } });
      item.sent = true;
      await put(item);
    }
    while (item.photos.length) {
      const p = item.photos[0];
      await ask(`/drive/photo?stop=${item.stop}&exception=${p.exception}&key=${p.key}`, { method: "POST", body: p.blob, headers: { ...guard, "Content-Type": p.blob.type } });
      item.photos.shift();
      await put(item);
    }
    await forget(item.key);
  };

  let sending = false, why = "";
  const send = async () => {
    if (sending) return;
    sending = true;
    let went = 0;
    try {
      const items = (await waiting()).filter((i) => !i.refused && i.person === person);
      if (!items.length) return;
      const { form_token: token, person: who } = await ask("/drive/token", { method: "GET", cache: "no-store" });
      if (who !== person) throw new Later("another person is signed in");
      for (const item of items) {
        try {
          await sendOne(item, token);
          went++;
        } catch (e) {
          if (e instanceof Later) throw e;
          item.refused = e.message;
          await put(item);
        }
      }
      why = "";
    } catch (e) {
      why = e instanceof Later ? e.message : String(e);
    } finally {
      sending = false;
      const left = await show();
      if (went && !left && location.pathname === "/drive") location.reload();
    }
  };

  // What the page says of the queue
  const show = async () => {
    const items = await waiting();
    const place = root.querySelector("[data-queue]");
    const open = items.filter((i) => !i.refused), refused = items.filter((i) => i.refused);
    place.hidden = !items.length;
    root.dataset.queue = items.length;
    place.textContent = open.length ? `${open.length} not sent. Kept on this phone until there is signal; don't sign out.${why ? ` (${why})` : ""}` : "";
    for (const item of refused) {
      const drop = Object.assign(document.createElement("button"), { type: "button", textContent: "Forget it" });
      drop.addEventListener("click", async () => { await forget(item.key); location.reload(); });
      place.append(` Refused by the desk: ${item.refused} `, drop);
    }
    for (const item of open) {
      const row = root.querySelector(`[data-stop="${item.stop}"]`);
      if (!row) continue;
      row.classList.add("over");
      row.querySelector("[data-state]").textContent = "kept on this phone, not sent";
    }
    if (location.pathname === "/drive") lead();
    return open.length;
  };
  const lead = () => {
    const next = root.querySelector("[data-stop]:not(.over) a"), button = document.querySelector(".act a"), say = root.querySelector(".say");
    if (next && button) button.href = next.href;
    if (next && say) say.textContent = "Next: " + next.textContent;
    if (!next && button) button.remove();
    if (!next && say && root.querySelector("[data-stop]")) say.textContent = "Every stop is handed over.";
  };

  // The form of a stop
  const form = root.querySelector("[data-stop-form]");
  const said = (name) => (form.elements[name] ? form.elements[name].value.trim() : "");

  const wrongs = () => [...form.querySelectorAll("[data-wrong]")].map((row) => {
    const n = row.dataset.wrong, bundle = form.elements["bundle." + n];
    return {
      kind: said("kind." + n), bundle: Number(bundle ? bundle.value : 0) || onlyBundle(), pieces: Number(said("pieces." + n)), note: said("note." + n),
      files: [...form.elements["photo." + n].files],
    };
  }).filter((w) => w.kind);
  const ticks = () => [...form.querySelectorAll("[name=ticked]")];
  const onlyBundle = () => (ticks().length === 1 ? Number(ticks()[0].value) : 0);

  const faults = (list) => {
    const out = [];
    for (const box of ticks()) {
      if (!box.checked && !list.some((w) => w.bundle === Number(box.value))) {
        out.push(`Bundle ${box.dataset.bundle} isn't ticked: tick it, or say what is wrong with it.`);
      }
    }
    for (const w of list) if (!(Number.isInteger(w.pieces) && w.pieces > 0)) out.push(`Say how many pieces are ${w.kind}.`);
    if (!said("receiver") && !said("unattended")) out.push("Print the receiver's name, or say who allowed leaving it.");
    return out;
  };
  const complain = (list) => {
    const box = form.querySelector("[data-problems]");
    box.hidden = !list.length;
    box.querySelector("ul").replaceChildren(...list.map((s) => Object.assign(document.createElement("li"), { textContent: s })));
    if (list.length) box.focus();
  };

  // A phone's picture is made smaller: 1,600 px show a bent edge.
  const smaller = async (file) => {
    try {
      const bitmap = await createImageBitmap(file);
      const scale = Math.min(1, 1600 / Math.max(bitmap.width, bitmap.height));
      const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(bitmap.width * scale), height: Math.round(bitmap.height * scale) });
      canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
      return await new Promise((done) => canvas.toBlob((b) => done(b || file), "image/jpeg", 0.8));
    } catch {
      return file;
    }
  };

  const handOver = async () => {
    const stop = Number(form.dataset.stopForm), list = wrongs();
    const bad = faults(list);
    complain(bad);
    if (bad.length || (await waiting()).some((i) => i.stop === stop)) return bad.length === 0;
    const photos = [];
    for (const [exception, w] of list.entries()) {
      for (const file of w.files) photos.push({ key: newKey(), exception, blob: await smaller(file) });
    }
    const key = newKey();
    const body = JSON.stringify({
      key, stop, receiver: said("receiver"), unattended: said("unattended"), signature: said("signature"), at: new Date().toISOString(),
      ticked: ticks().filter((b) => b.checked).map((b) => Number(b.value)),
      exceptions: list.map((w) => ({ bundle: w.bundle, kind: w.kind, pieces: w.pieces, note: w.note, photos: w.files.length })),
    });
    await put({ key, stop, person, body, photos, sent: false, refused: "" });
    localStorage.removeItem("stop " + stop);
    return true;
  };

  if (form) {
    // What is typed outlives a reload.
    const draft = "stop " + form.dataset.stopForm;
    for (const [id, value] of Object.entries(JSON.parse(localStorage.getItem(draft) || "{}"))) {
      const f = document.getElementById(id) || form.querySelector(`[name=ticked][value="${CSS.escape(id)}"]`);
      if (f && f.type === "checkbox") f.checked = value;
      else if (f) f.value = value;
    }
    form.addEventListener("input", () => {
      const kept = {};
      for (const f of form.elements) {
        if (f.name === "ticked") kept[f.value] = f.checked;
        else if (f.id && f.type !== "file") kept[f.id] = f.value;
      }
      localStorage.setItem(draft, JSON.stringify(kept));
    });
    let busy = false;
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      e.stopPropagation();
      if (busy) return;
      busy = true;
      try {
        if (await handOver()) {
          await send();
          location.assign("/drive");
        }
      } finally {
        busy = false;
      }
    });
  }

  // Keep today's stops for where there is no signal
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/drive/sw.js", { scope: "/drive" }).then(async () => {
      const worker = (await navigator.serviceWorker.ready).active;
      if (location.pathname !== "/drive" || !navigator.onLine) return;
      const channel = new MessageChannel();
      channel.port1.onmessage = () => { root.dataset.kept = "yes"; };
      worker.postMessage({ pages: ["/drive", ...[...root.querySelectorAll("[data-stop] a")].map((a) => a.pathname)] }, [channel.port2]);
    }).catch(() => {}); // without it the pages need signal; the queue still works
  }
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  setInterval(send, again);
  show().then(send);
})();
